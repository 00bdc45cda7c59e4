"""Where in its life a release is stands first on every page about the student: board, readiness, own page, brief."""

import json
import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.db import DatabaseError, transaction
from django.test import Client
from django.utils import timezone

from grading.actions import decisions, withdrawals
from grading.evidence.audit import missing_seals
from grading.evidence.audit.rebuilders import REBUILDERS
from grading.models import Release, Seal, StoredVerdict
from grading.reading.release_status import release_status
from grading.sheets.complete_content import build_complete_content
from grading.sheets.complete_layout import lay_out_complete
from lessons.models import Endorsement
from tests.cast import Cast
from tests.database_guards import guards_off
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
    assert words_of(row, "tr.chief-acts .bt-release") == "withdrawn, not read"


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


def test_a_renewal_signed_in_advance_asks_for_nothing(ready: Cast, look: Look) -> None:
    sign_release(ready, valid_until=ready.today + timedelta(days=5))
    sign_release(
        ready, valid_from=ready.today + timedelta(days=6), valid_until=ready.today + timedelta(days=30), at=ready.at(16)
    )
    said = f"eleased for solo until {day(ready, 5)}, renewed until {day(ready, 30)}"
    assert words_of(look("bert", "/students/{}/"), "h1").startswith(f"R{said}; all 21")
    assert words_of(look("dora", "/me/"), "h1") == f"You are r{said}."
    board = look("amelia", "/students/?q=dora")
    assert "renew or close" not in board.text
    assert board.select("tr.chief-acts") == []
    assert words_of(board, "#rows td.bt-release") == f"until {day(ready, 30)}"
    assert "Dora" not in look("amelia", "/students/?show=expiring").select_one("#rows").text  # type: ignore[union-attr]
    assert f"expires in 5 days, on {day(ready, 5)}" not in look("amelia", "/expiry-dates/").text


def test_a_next_release_after_a_gap_says_when_it_begins(ready: Cast) -> None:
    first = sign_release(ready, valid_until=ready.today + timedelta(days=5))
    begins = ready.today + timedelta(days=9)
    second = sign_release(ready, valid_from=begins, valid_until=ready.today + timedelta(days=30), at=ready.at(16))
    between = release_status([first, second], ready.today + timedelta(days=7))
    assert between is not None
    until = f"No solo before {day(ready, 9)}, when the next release begins."
    assert between.headline == f"Release expired on {day(ready, 5)}. {until}"
    assert between.headline_to_student == f"Your release expired on {day(ready, 5)}. {until}"
    now = release_status([first, second], ready.today)
    assert now is not None
    assert now.headline.endswith(f"on {day(ready, 5)}; the next one begins on {day(ready, 9)}.")


@pytest.mark.parametrize("withdrawn", [False, True])
def test_ready_without_the_endorsement_waits_for_the_instructor(ready: Cast, look: Look, withdrawn: bool) -> None:
    """14 CFR 61.87(n): the endorsement of the instructor comes before the flight, and so before the decision."""
    held = Endorsement.objects.get(enrolment=ready.enrolment, kind=Endorsement.Kind.PRE_SOLO_TRAINING)
    assert words_of(look("amelia", "/students/"), "h1").endswith("1 awaits your decision.")
    if withdrawn:
        withdrawals.withdraw_endorsement(endorsement=held, reason="Wrong words.", by=ready.bert, at=ready.at(14))
        gap = "Endorsement for solo missing: Bert Example endorses"
    else:
        with guards_off():  # time passes
            Endorsement.objects.filter(pk=held.pk).update(given_on=ready.today - timedelta(days=91))
        StoredVerdict.objects.update(stale=True)
        gap = "Endorsement for solo more than 90 days old: Bert Example endorses"
    board = look("amelia", "/students/")
    assert words_of(board, "h1").endswith("nobody awaits a decision.")
    row = look("amelia", "/students/?show=close")
    assert gap in words_of(row, "#rows td.bt-gap")
    assert row.select("tr.chief-acts") == []
    assert "1 to be endorsed" in board.text
    assert "Dora" not in look("amelia", "/students/?show=decision").select_one("#rows").text  # type: ignore[union-attr]
    said = words_of(look("bert", "/students/{}/"), ".verdict p.notice")
    assert said.startswith(gap)
    assert look("bert", "/students/{}/").select('.verdict a[href$="/solo-endorsement/"]')


def confirm(client: Client, release: Release) -> str:
    return client.post(f"/releases/{release.uid}/confirm/", follow=True).text


def test_the_student_confirms_a_withdrawal_and_the_chief_sees_who_has_not(
    ready: Cast, look: Look, client: Client
) -> None:
    release = sign_release(ready)
    withdraw(ready, release)
    assert words_of(look("amelia", "/students/"), "tr.chief-acts .bt-release") == "withdrawn, not read"
    assert "1 withdrawn, 1 not read" in look("amelia", "/students/").text
    assert "has not confirmed yet" in words_of(look("amelia", "/students/{}/"), "p.notice")
    own = look("dora", "/me/")
    assert words_of(own, "form[action$='/confirm/']") == "I have read it: I do not fly solo"
    assert "Confirmed. Your chief instructor sees" in confirm(client, release)
    own = look("dora", "/me/")
    assert own.select_one("form[action$='/confirm/']") is None
    assert words_of(own, "h1").endswith("No solo until a new one.")
    assert "You confirmed it on" in own.text
    assert words_of(look("amelia", "/students/"), "tr.chief-acts .bt-release") == "withdrawn"
    assert "Dora Example confirmed it on" in words_of(look("amelia", "/students/{}/"), "p.notice")


def test_a_confirmation_is_made_once_of_a_withdrawal_alone(ready: Cast, client: Client) -> None:
    release = sign_release(ready)
    client.force_login(ready.dora)
    assert "is not withdrawn: there is nothing to confirm" in confirm(client, release)
    withdraw(ready, release)
    confirm(client, release)
    assert "already confirmed this withdrawal" in confirm(client, release)
    client.force_login(ready.emil)
    assert client.post(f"/releases/{release.uid}/confirm/").status_code == 404


def test_a_confirmation_is_sealed_and_printed(ready: Cast) -> None:
    release = sign_release(ready)
    withdraw(ready, release)
    decisions.confirm_withdrawal(release=release, by=ready.dora, at=ready.at(17))
    assert Seal.objects.get(kind=Seal.Kind.CONFIRMED).subject == release.uid
    assert list(missing_seals.unsealed_rows()) == []
    assert rebuild_differences(release) == []
    (box,) = lay_out_complete(build_complete_content(ready.enrolment, ready.today)).releases
    assert box.state == "Withdrawn"
    assert "Confirmed by Dora Example" in box.small


def rebuild_differences(release: Release) -> list[str]:
    sealed = json.loads(Seal.objects.get(kind=Seal.Kind.CONFIRMED).canonical)
    rebuilt = REBUILDERS[Seal.Kind.CONFIRMED]([release.uid])[release.uid]
    return [name for name in sealed | rebuilt if sealed.get(name) != rebuilt.get(name)]


@pytest.mark.parametrize(
    "change",
    [
        {"withdrawal_read_at": None},
        {"withdrawal_read_at": "2030-01-01T00:00Z"},
        {"withdrawal_read_at": "2030-01-01T00:00Z", "withdrawal_reason": "Another"},
    ],
)
def test_a_confirmation_is_final(ready: Cast, change: dict[str, str | None]) -> None:
    release = sign_release(ready)
    withdraw(ready, release)
    decisions.confirm_withdrawal(release=release, by=ready.dora, at=ready.at(17))
    with pytest.raises(DatabaseError, match="the decision is final"), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(**change)


def test_the_database_takes_a_confirmation_of_a_withdrawal_alone(ready: Cast) -> None:
    release = sign_release(ready)
    with pytest.raises(DatabaseError), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(withdrawal_read_at=ready.at(17))
    withdraw(ready, release)
    with pytest.raises(DatabaseError, match="the decision is final"), transaction.atomic():
        Release.objects.filter(pk=release.pk).update(withdrawal_read_at=ready.at(17), withdrawal_reason="Another")
