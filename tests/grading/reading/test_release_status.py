"""Where in its life a release is, said from rows in memory."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from grading.models import Release
from grading.reading.release_status import ReleasePhase, release_status
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
