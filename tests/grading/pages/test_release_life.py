"""Where in its life a release is stands first on every page about the student: board, readiness, own page, brief."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.test import Client
from django.utils import timezone

from grading.actions import decisions
from grading.models import Release
from tests.cast import Cast
from tests.factories import begin_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state

DUAL, SOLO = 14, 17
Look = Callable[[str, str], BeautifulSoup]


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


@pytest.fixture
def look(client: Client, ready: Cast) -> Look:
    def read(who: str, page: str) -> BeautifulSoup:
        client.force_login(getattr(ready, who))
        return BeautifulSoup(client.get(page.format(ready.enrolment.uid)).content, "html.parser")

    return read


@pytest.fixture
def pass_days(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    def move(days: int) -> None:
        later = timezone.now() + timedelta(days=days)
        monkeypatch.setattr(timezone, "now", lambda: later)

    return move


def words_of(found: BeautifulSoup, css: str) -> str:
    row = found.select_one(css)
    assert row is not None, css
    return re.sub(r"\s+", " ", row.get_text()).strip()


def withdraw(cast: Cast, release: Release) -> None:
    decisions.withdraw_release(release=release, reason="Bounced twice", by=cast.amelia, at=cast.at(16))


def day(cast: Cast, ahead: int = 0) -> str:
    on = cast.today + timedelta(days=ahead)
    return f"{on.day} {on:%b %Y}"


def test_withdrawn_reads_nowhere_as_ready(ready: Cast, look: Look) -> None:
    withdraw(ready, sign_release(ready))
    said = f"Release withdrawn on {day(ready)} by Amelia Example"
    readiness = words_of(look("bert", "/students/{}/"), "h1")
    assert readiness.startswith(f"{said}: no solo until a new release, though all 21 requirements are met")
    assert "Reason: Bounced twice" in look("bert", "/students/{}/").text
    own = look("dora", "/me/")
    assert words_of(own, "h1") == f"Your release was withdrawn on {day(ready)}. No solo until a new one."
    assert words_of(own, "p.notice") == "Bounced twice"
    assert "a new release is missing" in re.sub(r"\s+", " ", own.text)
    row = look("amelia", "/students/")
    assert "Bounced twice" in words_of(row, "tr.chief-acts .bt-gap")
    assert words_of(row, "tr.chief-acts .bt-release") == "withdrawn"


@pytest.mark.parametrize(
    ("unit", "words"), [(DUAL, "No solo: release withdrawn"), (SOLO, "Not released for this solo")]
)
def test_withdrawn_stands_first_in_the_brief(ready: Cast, look: Look, unit: int, words: str) -> None:
    withdraw(ready, sign_release(ready))
    lesson = begin_lesson(ready, unit)
    band = words_of(look("bert", f"/lessons/{lesson.uid}/"), "#before-flight .flight-band")
    assert band.startswith(words)
    assert f"Release withdrawn on {day(ready)} by Amelia Example: Bounced twice" in band


def test_in_force_says_until_when(ready: Cast, look: Look) -> None:
    sign_release(ready)
    assert words_of(look("bert", "/students/{}/"), "h1").startswith(f"Released for solo until {day(ready, 30)}; all 21")
    assert words_of(look("dora", "/me/"), "h1") == f"You are released for solo until {day(ready, 30)}."
    assert f"until {day(ready, 30)}" in look("amelia", "/students/?show=released").text
    lesson = begin_lesson(ready, DUAL)
    brief = look("bert", f"/lessons/{lesson.uid}/")
    assert words_of(brief, "#before-flight") == f"Released for solo until {day(ready, 30)}."


def test_expiring_is_said_with_its_days(ready: Cast, look: Look) -> None:
    sign_release(ready, valid_until=ready.today + timedelta(days=5))
    left = f"expires in 5 days, on {day(ready, 5)}"
    assert words_of(look("bert", "/students/{}/"), "h1").startswith(f"Release for solo {left}; all 21")
    assert words_of(look("dora", "/me/"), "h1") == f"Your release for solo {left}."
    board = look("amelia", "/students/?show=expiring")
    assert words_of(board, "tr.chief-acts .bt-gap") == "Release expires in 5 days: renew or close"
    lesson = begin_lesson(ready, DUAL)
    band = words_of(look("bert", f"/lessons/{lesson.uid}/"), ".flight-band")
    assert band == f"Release for solo expires in 5 days Its last day is {day(ready, 5)}."


def test_expired_asks_for_a_new_one(ready: Cast, look: Look, pass_days: Callable[[int], None]) -> None:
    sign_release(ready, valid_until=ready.today + timedelta(days=5))
    pass_days(6)
    assert words_of(look("dora", "/me/"), "h1") == f"Your release expired on {day(ready, 5)}. No solo until a new one."
    board = look("amelia", "/students/?show=expiring")
    assert f"Release expired on {day(ready, 5)}" in words_of(board, "tr.chief-acts .bt-gap")
    assert words_of(board, "tr.chief-acts .bt-release") == f"expired {day(ready, 5)}"
    assert "Dora" not in look("amelia", "/students/?show=released").select_one("#rows").text  # type: ignore[union-attr]
    lesson = begin_lesson(ready, DUAL, days_ago=-6)
    assert words_of(look("bert", f"/lessons/{lesson.uid}/"), ".flight-band b") == "No solo: release expired"
