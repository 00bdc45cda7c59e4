"""A school in which every form can be seen: lessons in all states, a student ready for solo, one who has left."""

import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, resolve, reverse

from grading.actions import training
from tests import page_targets
from tests.access_matrix import ACCESS_MATRIX
from tests.cast import Cast
from tests.factories import fly_lesson
from tests.fuzz.pages import Form, forms_of
from tests.ready_student import make_ready

PEOPLE = ("amelia", "bert", "cleo", "dora", "emil", "frida", None)
FORMS_OF_ONE_ADDRESS = 5


def add_further_pages(cast: Cast) -> list[str]:
    """Pages beyond those of the access ladder, with the states they need."""
    make_ready(cast)
    signed = fly_lesson(cast)
    training.end_training(
        enrolment=cast.other_enrolment, on=cast.today, end="terminated", by=cast.frida, at=cast.at(13)
    )
    return [f"/lessons/{signed.uid}/", f"/students/{cast.other_enrolment.uid}/end/"]


def page_addresses(cast: Cast) -> dict[str, str]:
    """The address of each page of the access ladder, of the first object it may be asked for."""
    objects = page_targets.create_page_targets(cast).args
    return {
        name: reverse(name, args=next(iter(objects[row.kind].values())))
        for name, row in sorted(ACCESS_MATRIX.items())
    }  # fmt: skip


def query_names() -> list[str]:
    """Every name that a view asks a query for, as its source says."""
    found: set[str] = {"q", "page"}
    for file in sorted(Path(settings.BASE_DIR).glob("*/views/*.py")):
        found |= set(re.findall(r'request\.GET\.get\("(\w+)"', file.read_text()))
    return sorted(found | {"since", "until", "about", "by", "what", "kind", "weight", "instructor", "student"})


def address_patterns(resolver: URLResolver | None = None, before: str = "/") -> list[str]:
    """Every address of the project that has an argument, with its kind in place of it."""
    found = []
    for entry in (resolver or get_resolver()).url_patterns:
        here = before + str(entry.pattern)
        if isinstance(entry, URLResolver):
            found += address_patterns(entry, here)
        elif isinstance(entry, URLPattern) and "<" in here:
            found.append(re.sub(r"<(\w+):\w+>", r"<\1>", here))
    return found


def forms_on_pages(client: Client, pages: list[str]) -> list[Form]:
    """The forms of these pages; of many that differ in nothing but keys and names only a few."""
    found: dict[Any, Form] = {}
    for page in pages:
        reply = client.get(page)
        if reply.status_code != 200 or "html" not in reply.headers["Content-Type"]:
            continue
        for form in forms_of(reply.text, page):
            view = resolve(urlsplit(form.action).path).view_name
            key = view, form.method, tuple(field.name for field in form.fields), tuple(name for name, _ in form.keys)
            if sum(seen[0] == view for seen in found) < FORMS_OF_ONE_ADDRESS:
                found.setdefault(key, form)
    return list(found.values())
