"""Every page that can be reached by links, for each role, against the rules of axe for WCAG 2.2 A and AA.

Source: axe-core (the library), tags wcag2a to wcag22aa and best-practice. What it cannot see, such as the order of the
keyboard and the focus after a swap, is in the journeys.
"""

import re
from decimal import Decimal
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from lessons.models import Lesson
from school import places
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.journeys.devices import DESKTOP, PHONE, TABLET, OpenPage
from tests.ready_student import make_ready
from tests.track_files import create_track, create_upload

RULES = {
    "resultTypes": ["violations"],
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
}
# The lesson page is read in the sun: contrast of 7 to 1 (WCAG 2.2, 1.4.6), in every light.
ENHANCED = {"resultTypes": ["violations"], "runOnly": ["color-contrast-enhanced"]}
COLOURS = RULES | {"runOnly": ["color-contrast"]}
OPEN_ALL = "() => document.querySelectorAll('details').forEach(e => e.open = true)"
LINKS = "() => [...document.querySelectorAll('a[href^=\"/\"]:not([download])')].map(e => e.getAttribute('href'))"
# Pages that show others nothing that the first of the roles below who reaches them does not see: one role looks.
THE_SAME = re.compile(
    r"^/(account|expiry-dates|search|marks|people|aircraft|aerodromes|journal|settings|standard|records/retention|tablet"
    r"|syllabuses/\d+|gates/[a-z0-9-]+)/"
)
SEEN: set[str] = set()
NOT_A_PAGE = re.compile(r"\.(pdf|csv|xlsx|zip|ics|yaml|json|pem|gpx)$|/form/$|/file/")


PICTURE_PAGES = ("debrief/", "circuits/", "circuits/1/")


def fly_with_pictures(cast: Cast) -> Lesson:
    """A signed lesson of long ago with numbers, a fault and the wind, on a runway that has a place and an obstacle."""
    trees = {"name": "trees", "before_ft": 900, "side_ft": -130, "height_ft": 55}
    place = {"heading_true": Decimal("181.5"), "aiming_point_ft": 400}
    places.place_runway(runway=cast.runway, place=place, obstacles=[trees], by=cast.frida, at=cast.at())
    lesson = begin_lesson(cast, 8, 60)
    wind = {"lesson.wind_direction": "210", "lesson.wind_speed_kt": "14", "lesson.wind_gust_kt": "20"}
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.next_time": "Power off earlier."}, **wind)
    numbers = {
        "takeoff.measure.climb.speed": "85", "downwind.measure.abeam.height": "850",
        "approach.measure.turn.bank": "25", "approach.measure.final.height": "113",
        "approach.measure.final.speed": "70", "landing.measure.touchdown.distance": "1500",
    }  # fmt: skip
    for number in (1, 2):
        record_circuit(cast, lesson, number, "practice", **numbers, **{"landing.fault.floated": "on"})
    return sign_lesson(cast, lesson, 60)


def page_kind(address: str) -> str:
    """Pages of one kind are looked at once: the keys in the address do not matter."""
    return re.sub(r"[0-9a-f-]{36}|\d+", "_", re.sub(r"[?&]next=[^&]*", "", address))


AT_NIGHT: set[str] = set()  # kinds of page looked at by night: one role is enough, light changes nothing but colours


def broken_rules(page: Page, first: bool) -> list[str]:
    """What all pages of a role have alike, its heading and its foot, is looked at on the first of them."""
    page.evaluate(OPEN_ALL)
    asked = {"include": [["html"]], "exclude": [] if first else [["header.top"], ["body footer"]]}
    answers: list[tuple[str, Any]] = [("day", Axe().run(page, context=asked, options=RULES).response)]
    if page_kind(page.url) not in AT_NIGHT:
        AT_NIGHT.add(page_kind(page.url))
        page.evaluate("document.documentElement.dataset.light = 'night'")
        answers.append(("night", page.evaluate("([asked, options]) => axe.run(asked, options)", [asked, COLOURS])))
    return [
        f"{light} {page.url} {rule['id']}: {node['html'][:200]}"
        for light, answer in answers
        for rule in answer["violations"]
        for node in rule["nodes"]
    ]


def walk_pages(page: Page, *starts: str) -> tuple[set[str], list[str]]:
    seen, todo, found = set(), [*starts], []
    while todo:
        address = todo.pop(0).split("#")[0]
        if page_kind(address) in seen or NOT_A_PAGE.search(address.split("?")[0]):
            continue
        seen.add(page_kind(address))
        if THE_SAME.match(address):
            if page_kind(address) in SEEN:
                continue
            SEEN.add(page_kind(address))
        page.goto(address)
        found += broken_rules(page, first=len(seen) == 1)
        todo += page.evaluate(LINKS)
    return seen, found


@pytest.mark.parametrize(
    ("who", "size", "start", "pages"),
    [
        ("amelia", DESKTOP, "/students/", 19),
        ("bert", TABLET, "/lessons/", 14),
        ("dora", PHONE, "/me/", 4),
        ("frida", DESKTOP, "/records/", 12),
    ],
)
def test_no_page_breaks_a_rule(
    transactional_cast: Cast,
    enter: OpenPage,
    who: str,
    size: tuple[int, int],
    start: str,
    pages: int,
) -> None:
    cast = transactional_cast
    flown = fly_with_pictures(cast)
    make_ready(cast)
    fly_lesson(cast, circuits=3, level="practice", enrolment=cast.other_enrolment)
    lesson = begin_lesson(cast)
    record_circuit(cast, lesson, 1, "practice", **{"landing.fault.bounced": "on", "landing.help": "prompted"})
    record_entries(cast, lesson, **{"circuit.2.approach.measure.final.speed": "75"})
    create_track(cast, lesson)
    create_upload(cast, lesson)
    # First the pages of a lesson whose pictures have something to draw: of one kind the first is looked at.
    pictures = [f"/lessons/{flown.uid}/{page}" for page in PICTURE_PAGES]
    wind = f"/me/?runway={cast.runway.pk}&direction=110&reference=true&speed=12&gust=18"
    seen, found = walk_pages(enter(who, size), start, *pictures, *([wind] if who == "dora" else []))
    assert found == []
    assert len(seen) >= pages, seen
    assert {page_kind(address) for address in pictures} <= seen


def test_the_lesson_page_has_enhanced_contrast(transactional_cast: Cast, enter: OpenPage) -> None:
    lesson = begin_lesson(transactional_cast)
    record_circuit(transactional_cast, lesson, 1, "practice", **{"landing.help": "prompted"})
    page = enter("bert", TABLET)
    page.goto(f"/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")
    for view in ("", "#circuits"):
        page.evaluate(f"location.hash = '{view}'")
        page.evaluate(OPEN_ALL)
        for light in ("day", "sun", "night"):
            page.evaluate(f"document.documentElement.dataset.light = '{light}'")
            answer: Any = Axe().run(page, options=ENHANCED).response
            assert [node["html"][:200] for rule in answer["violations"] for node in rule["nodes"]] == [], (view, light)
            assert answer["passes"], light


@pytest.mark.parametrize("size", [TABLET, PHONE])
@pytest.mark.parametrize(
    "detail", ["", ".part[data-part=landing] .faults", ".part[data-part=approach] .numbers", "#around", "#took-control"]
)
def test_the_pad_breaks_no_rule(transactional_cast: Cast, enter: OpenPage, size: tuple[int, int], detail: str) -> None:
    lesson = begin_lesson(transactional_cast, 14)
    record_circuit(
        transactional_cast, lesson, 1, "practice", **{"landing.help": "prompted", "downwind.level": "explain"}
    )
    page = enter("bert", size)
    page.goto(f"/lessons/{lesson.uid}/#circuits")
    page.wait_for_selector("html[data-ready]", state="attached")
    if detail:
        page.evaluate(f"document.querySelector('{detail}').open = true")
    # What lies beside an open detail is looked at without one.
    answer: Any = Axe().run(page, context={"include": [[detail or "html"]]}, options=RULES).response
    assert [f"{rule['id']}: {node['html'][:200]}" for rule in answer["violations"] for node in rule["nodes"]] == []
