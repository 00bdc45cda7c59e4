"""Every page that can be reached by links, for each role, against the rules of axe for WCAG 2.2 A and AA.

Source: axe-core (the library), tags wcag2a to wcag22aa and best-practice. What it cannot see, such as the order of the
keyboard and the focus after a swap, is in the journeys.
"""

import re
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.cast import Cast
from tests.factories import begin, circuit, flown, tap
from tests.grading.test_decisions import make_ready
from tests.journeys.test_journeys import (  # noqa: F401 - fixtures
    DESK,
    PHONE,
    TABLET,
    Enter,
    browser,
    enter,
)

RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
COLOURS = RULES | {"runOnly": ["color-contrast"]}
OPEN_ALL = "() => document.querySelectorAll('details').forEach(e => e.open = true)"
LINKS = "() => [...document.querySelectorAll('a[href^=\"/\"]:not([download])')].map(e => e.getAttribute('href'))"
NOT_A_PAGE = re.compile(r"\.(pdf|csv|xlsx|zip|ics|yaml|json|pem)$|/form/$|/file/")


def kind(address: str) -> str:
    """Pages of one kind are looked at once: the keys in the address do not matter."""
    return re.sub(r"[0-9a-f-]{36}|\d+", "_", address)


def broken(page: Page) -> list[str]:
    page.evaluate(OPEN_ALL)
    found = []
    for light, rules in (("day", RULES), ("night", COLOURS)):  # light changes nothing but colours
        page.evaluate(f"document.documentElement.dataset.light = '{light}'")
        answer: Any = Axe().run(page, options=rules).response
        for rule in answer["violations"]:
            found += [f"{light} {page.url} {rule['id']}: {node['html'][:200]}" for node in rule["nodes"]]
    return found


def walk(page: Page, start: str) -> tuple[set[str], list[str]]:
    seen, todo, found = set(), [start], []
    while todo:
        address = todo.pop(0).split("#")[0]
        if kind(address) in seen or NOT_A_PAGE.search(address.split("?")[0]):
            continue
        seen.add(kind(address))
        page.goto(address)
        found += broken(page)
        todo += page.evaluate(LINKS)
    return seen, found


@pytest.mark.parametrize(
    ("who", "size", "start", "pages"),
    [
        ("amelia", DESK, "/students/", 19),
        ("bert", TABLET, "/lessons/", 14),
        ("dora", PHONE, "/me/", 4),
        ("frida", DESK, "/records/", 12),
    ],
)
def test_no_page_breaks_a_rule(
    transactional_cast: Cast,
    enter: Enter,  # noqa: F811
    who: str,
    size: tuple[int, int],
    start: str,
    pages: int,
) -> None:
    cast = transactional_cast
    make_ready(cast)
    flown(cast, circuits=3, level="practice", enrolment=cast.other_enrolment)
    lesson = begin(cast)
    circuit(cast, lesson, 1, "practice", **{"landing.fault.bounced": "on", "landing.help": "prompted"})
    tap(cast, lesson, **{"circuit.2.approach.measure.landing-line.speed": "75"})
    seen, found = walk(enter(who, size), start)
    assert found == []
    assert len(seen) >= pages, seen
