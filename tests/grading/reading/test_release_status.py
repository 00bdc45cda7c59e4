"""Where in its life a release is, said from rows in memory."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from grading.models import Release
from grading.reading.release_status import ReleasePhase, headline_with_verdict, release_status
from grading.rules.readiness import Outcome, State, Verdict
from grading.rules.said import said
from school.models import Person

UNTIL = date(2026, 11, 28)


@pytest.fixture(autouse=True)
def utc_school(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("grading.reading.release_status.school_day", lambda at: at.date())


def make_release(pk: int = 1, **more: Any) -> Release:
    given = {"valid_from": date(2026, 10, 1), "valid_until": UNTIL, "decided_at": datetime(2026, 10, 1, tzinfo=UTC)}
    return Release(pk=pk, **given | more)


def withdrawn_release(pk: int = 1) -> Release:
    who = Person(given_name="Wen", family_name="Vell")
    return make_release(
        pk, withdrawn_at=datetime(2026, 11, 10, 17, 5, tzinfo=UTC), withdrawn_by=who, withdrawal_reason="Bounced."
    )


class TestReleasePhase:
    @pytest.mark.parametrize(
        ("days", "phase"),
        [
            (15, ReleasePhase.RELEASED),
            (14, ReleasePhase.EXPIRING),
            (0, ReleasePhase.EXPIRING),
            (-1, ReleasePhase.EXPIRED),
        ],
    )
    def test_boundaries_of_the_days_left(self, days: int, phase: ReleasePhase) -> None:
        status = release_status([make_release()], UNTIL - timedelta(days=days))
        assert status is not None
        assert status.phase is phase

    def test_withdrawn_names_day_and_person(self) -> None:
        status = release_status([withdrawn_release()], UNTIL)
        assert status is not None
        assert status.headline == "Release withdrawn on 10 Nov 2026 by Wen Vell. No solo until a new release."

    def test_withdrawal_is_not_known_on_a_day_before_it(self) -> None:
        status = release_status([withdrawn_release()], date(2026, 11, 9))
        assert status is not None
        assert status.phase is not ReleasePhase.WITHDRAWN

    def test_renewal_speaks_before_the_withdrawn_one(self) -> None:
        status = release_status([make_release(2), withdrawn_release(1)], UNTIL)
        assert status is not None
        assert status.release.pk == 2

    def test_none_before_the_first(self) -> None:
        assert release_status([make_release()], date(2026, 9, 1)) is None


def make_verdict(open_ones: int) -> Verdict:
    states = [State.OPEN] * open_ones + [State.MET] * (18 - open_ones)
    rows = tuple(Outcome(str(n), "", "", "school", "", state, said("on_record")) for n, state in enumerate(states))
    return Verdict("S-1", "Type", UNTIL, "standard", "us", rows)


class TestHeadlineWithVerdict:
    """One sentence for both: requirements that are met never read as a release."""

    @pytest.mark.parametrize(
        ("release", "on", "open_ones", "words"),
        [
            (None, UNTIL, 0, "All 18 requirements are met."),
            (None, UNTIL, 1, "Not ready for first solo yet: 1 of 18 requirements is open."),
            (
                withdrawn_release(), UNTIL, 0,
                "Release withdrawn on 10 Nov 2026 by Wen Vell: no solo until a new release, though all 18 requirements"
                " are met.",
            ),
            (
                withdrawn_release(), UNTIL, 2,
                "Release withdrawn on 10 Nov 2026 by Wen Vell: no solo until a new release, and 2 of 18 requirements"
                " are open.",
            ),
            (
                make_release(), UNTIL + timedelta(days=1), 0,
                "Release expired on 28 Nov 2026: no solo until a new release, though all 18 requirements are met.",
            ),
            (
                make_release(), UNTIL, 0,
                "Release for solo expires today, on 28 Nov 2026; all 18 requirements are met.",
            ),
            (
                make_release(), UNTIL - timedelta(days=30), 1,
                "Released for solo until 28 Nov 2026; 1 of 18 requirements is open.",
            ),
        ],
    )  # fmt: skip
    def test_sentence(self, release: Release | None, on: date, open_ones: int, words: str) -> None:
        status = release_status([release] if release else [], on)
        assert headline_with_verdict(status, make_verdict(open_ones)) == words
