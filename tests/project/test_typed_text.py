"""What a person types is text and nothing else, wherever it is shown: pages, pieces of pages, paper, spreadsheets.

Source: OWASP ASVS 5.0, 1.2 (injection prevention); the places that show text are the project's.
"""

import csv
import io
import re
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.apps import apps
from django.conf import settings
from django.db import IntegrityError, models, transaction
from django.db.models import Value
from django.db.models.functions import Concat, Length
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from grading.actions import sheets
from grading.models import Sheet
from grading.sheets import pdf
from lessons.models import Enrolment, SyllabusDraft
from school import csv_text
from school.errors import Refusal
from school.models import Person
from tests import page_targets
from tests.access_matrix import ACCESS_MATRIX
from tests.cast import Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, record_entries
from tests.page_requests import PageRequests, send_entry
from tests.page_targets import PageTargets

# Ends a text, a quoted attribute, begins an element, a variable and a tag of the template language.
LONG, SHORT = "<xss>\" onx=1 '{{7*7}}{%x%}", '<xss>"'
# Made by the program, or read by it as a name, a number or a form of its own: never shown as typed.
NOT_TYPED = {
    "password", "code", "key", "fingerprint", "digest", "previous", "canonical", "head", "pem", "engine", "field",
    "drawn", "requirement", "weather_report", "step", "given_step", "proposed_step", "time_zone",
}  # fmt: skip
TYPED_IN_DRAFT = {"title", "text", "aim", "brief", "name", "cause", "cure", "source", "rule", "exercises", "reference"}


def typed_fields() -> Iterator[tuple[type[models.Model], models.Field]]:
    for app in ("school", "lessons", "grading"):
        for model in apps.get_app_config(app).get_models():
            for field in model._meta.local_concrete_fields:
                words = isinstance(field, (models.CharField, models.TextField)) and not field.choices
                if words and field.name not in NOT_TYPED and not isinstance(field, models.SlugField):
                    yield model, field


def fill_with_markup(cast: Cast) -> set[str]:
    """Write what nobody should type behind whatever stands in every field that people type in."""
    written = set()
    with guards_off():
        for model, field in typed_fields():
            name = field.attname
            rows = model._default_manager.annotate(standing=Length(name))
            for more in (LONG, SHORT):
                room = (field.max_length or 10_000) - len(more)
                if room < 0:
                    continue
                fitting = rows.filter(standing__lte=room).exclude(**{f"{name}__contains": SHORT})
                changed = fitting.exclude(**{name: ""}).update(**{name: Concat(name, Value(more))})
                # A reason without what it is the reason of is refused by the table.
                with suppress(IntegrityError), transaction.atomic():
                    changed += fitting.filter(**{name: ""}).update(**{name: more})
                if changed:
                    written.add(f"{model.__name__}.{field.name}")
        for draft in SyllabusDraft.objects.all():
            SyllabusDraft.objects.filter(pk=draft.pk).update(content=with_markup(draft.content))
    return written


def with_markup(content: Any, name: str = "") -> Any:
    if isinstance(content, dict):
        return {key: with_markup(value, key) for key, value in content.items()}
    if isinstance(content, list):
        return [with_markup(value, name) for value in content]
    return content + LONG if isinstance(content, str) and name in TYPED_IN_DRAFT else content


def assert_escaped(html: str, where: str) -> bool:
    """Whether what was typed stands there at all."""
    soup = BeautifulSoup(html, "html.parser")
    assert not soup.find_all("xss"), where
    assert not soup.find_all(lambda tag: any(name.lower().startswith("onx") for name in tag.attrs)), where
    attributes = (str(value) for tag in soup.find_all() for value in tag.attrs.values())
    return "<xss>" in soup.get_text() or any("<xss>" in value for value in attributes)


@pytest.fixture
def asked(cast: Cast) -> PageTargets:
    return page_targets.create_page_targets(cast)


def test_what_is_typed_is_text_on_every_page_and_on_paper(
    cast: Cast, asked: PageTargets, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = begin_lesson(cast)
    report = f"ZZZX {cast.today:%d}0052Z 18008KT 10SM CLR 20/10 A2992 RMK {LONG}"
    record_entries(cast, lesson, **{"lesson.weather_report": report})
    fields = fill_with_markup(cast)
    assert len(fields) > 60, sorted(fields)
    ask, shown, looked = PageRequests(cast, asked), set(), 0
    for name, row in ACCESS_MATRIX.items():
        for (method, target), rungs in row.answers.items():
            readers = [who for who in ("amelia", "frida", "bert") if who in rungs and rungs[who].status == 200][:1]
            readers += [who for who in ("dora",) if who in rungs and rungs[who].status == 200]
            for who in readers if method == "GET" else []:
                reply = ask(who, name, method, target)
                assert reply.status_code in (200, 404), name
                if reply.get("Content-Type", "").startswith("text/html"):
                    looked += 1
                    if assert_escaped(reply.text, f"{name} {target} for {who}"):
                        shown.add(name)
    client = Client()
    client.force_login(cast.bert)
    pieces = send_entry(client, lesson, "lesson.remarks", LONG)["html"]
    assert_escaped(pieces, "a piece of the lesson page")
    assert len(shown) > 35, sorted(shown)
    for kind in ("progress", "complete"):
        assert assert_escaped(printed_html(cast, kind, monkeypatch), kind)
    assert looked > 60


def printed_html(cast: Cast, kind: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """The page that would be laid out for the paper."""
    caught = []

    def stop(html: str, *more: Any) -> bytes:
        caught.append(html)
        raise Refusal("enough")

    monkeypatch.setattr(pdf, "render_pdf", stop)
    enrolment = Enrolment.objects.for_pages().get(pk=cast.enrolment.pk)
    with pytest.raises(Refusal, match="enough"):
        sheets.print_sheet(
            kind=Sheet.Kind(kind), enrolment=enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at()
        )
    return str(caught[0])


# Drawings that are made of numbers and of words of the program, by school/marks and the pages named with them. Names of
# obstacles are typed: school/marks escapes every text, and test_obstacles_are_drawn_and_told() tries it.
DRAWN = {"plan", "profile", "figure.drawing", "part.drawing", "gate.drawing", "code", "brief.plan", "triangle.svg"} | {
    "pictures.approach",
    "pictures.progress",
    "pictures.touchdowns",
    "page.approaches.plan",
    "page.approaches.heights",
    "page.progress.drawing",
    "row.drawing",
}


def test_only_drawings_are_put_in_as_they_are() -> None:
    for page in Path(settings.BASE_DIR, "templates").rglob("*.html"):
        text = page.read_text()
        assert "autoescape" not in text, page
        assert {name for name in re.findall(r"\{\{\s*([\w.]+)[^}]*\|\s*safe\b", text)} <= DRAWN, page
        assert "safeseq" not in text, page
    raw = r"mark_safe|SafeString\(|format_html|Template\("
    for app in ("school", "lessons", "grading"):
        for module in Path(settings.BASE_DIR, app).rglob("*.py"):
            assert module.parent.name == "templatetags" or not re.search(raw, module.read_text()), module


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("=1+1", "'=1+1"), ("+1", "'+1"), ("-1", "'-1"), ("@SUM(A1)", "'@SUM(A1)"), ("\t=1", "'\t'=1"),
        ("\r=1", "'\r'=1"), ("\n", "'\n"), ("＝1+1", "'＝1+1"), ("calm;=1+1", "calm;'=1+1"),
        ("calm; =1+1", "calm; '=1+1"), ("first\n=1+1", "first\n'=1+1"), ("a=b, c-d", "a=b, c-d"),
        ("Level; then low", "Level; then low"),
    ],
)  # fmt: skip
def test_no_cell_begins_a_formula(typed: str, kept: str) -> None:
    """Source: OWASP, CSV injection: the signs that begin a formula; separators and wide forms as well."""
    assert next(csv.reader(io.StringIO(csv_text.format_line([typed]), newline=""))) == [kept]


# The rule as a regular expression, which takes the square of the length of a run of blanks.
FORMULA_START = re.compile(r"(^[\t\r\n]*|[;\t\r\n]\s*)(?=[=+\-@＝＋－＠])")


@given(st.text(st.sampled_from(";\t\r\n\x0b\u2028 =+-@＝a,'"), max_size=12))
def test_the_signs_of_a_formula_are_those_of_the_rule(cell: str) -> None:
    plain = FORMULA_START.sub(r"\1'", cell)
    plain = f"'{plain}" if plain.startswith(("\t", "\r", "\n")) else plain
    assert next(csv.reader(io.StringIO(csv_text.format_line(["x", cell]), newline=""))) == ["x", plain]


@pytest.mark.parametrize("blank", ["\n", ";", "\t", "; "])
def test_a_long_cell_takes_time_by_its_length(blank: str) -> None:
    def seconds(length: int) -> float:
        cell = blank * length + "a="
        begun = time.process_time()
        csv_text.format_line([cell])
        return time.process_time() - begun

    # Four times the length is sixteen times the work where it grows with the square.
    assert min(seconds(40_000) for _ in range(3)) < 9 * min(seconds(10_000) for _ in range(3))


def test_every_table_for_a_spreadsheet_is_written_so(cast: Cast, asked: PageTargets) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(given_name="=cmd|' /C calc'!A0", reference="x;=2")
    ask = PageRequests(cast, asked)
    tables = 0
    for name, row in ACCESS_MATRIX.items():
        for (method, target), rungs in row.answers.items():
            reader = next((who for who in ("amelia", "frida") if who in rungs and rungs[who].status == 200), None)
            if method != "GET" or reader is None or not ("csv" in name or name == "grading:example_table"):
                continue
            client, _ = ask.clients[reader]
            reply = client.get(reverse(name, args=ask.args(name, target)))
            if reply["Content-Type"].startswith("text/csv"):
                text = (b"".join(reply.streaming_content) if reply.streaming else reply.content).decode("utf-8-sig")
                tables += 1
                for separator in ",;\t":
                    for cells in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
                        assert not [cell for cell in cells if re.match(r"[=+@-]", cell)], (name, separator)
    assert tables == 3
