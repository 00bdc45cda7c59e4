"""This module says where in its life a student's release for solo by day is: in force, expiring, expired, withdrawn."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from grading.models import Release
from school.current import school_day

EXPIRING_DAYS = 14  # the project's own choice; no rule names it


class ReleasePhase(StrEnum):
    RELEASED = "released"
    EXPIRING = "expiring"
    EXPIRED = "expired"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True)
class ReleaseStatus:
    """Describe the release that counts on a day; `days`: to its last day, negative once it has expired."""

    phase: ReleasePhase
    release: Release
    days: int

    @property
    def headline(self) -> str:
        """Return the phase in a sentence. It states what was signed and permits nothing."""
        until = _day(self.release.valid_until)
        if self.phase is ReleasePhase.WITHDRAWN:
            assert self.release.withdrawn_at is not None
            on = _day(school_day(self.release.withdrawn_at))
            return f"Release withdrawn on {on} by {self.release.withdrawn_by}. No solo until a new release."
        if self.phase is ReleasePhase.EXPIRED:
            return f"Release expired on {until}. No solo until a new release."
        if self.phase is ReleasePhase.EXPIRING:
            left = {0: "today", 1: "in 1 day"}.get(self.days, f"in {self.days} days")
            return f"Release for solo expires {left}, on {until}."
        return f"Released for solo until {until}."


def release_status(releases: Iterable[Release], on: date) -> ReleaseStatus | None:
    """Return the status of the release by day on a day, as known then; None before the first. No query.

    releases: those of one enrolment with `withdrawn_by`, in any order.
    """
    given = [row for row in releases if row.kind == Release.Kind.DAY and school_day(row.decided_at) <= on]
    begun = [row for row in given if row.valid_from <= on or _is_withdrawn(row, on)]
    if not begun:
        return None
    # One in force speaks before every other: a renewal replaces what was withdrawn or has expired.
    release = max(begun, key=lambda row: (not _is_withdrawn(row, on) and row.valid_until >= on, row.decided_at, row.pk))
    days = (release.valid_until - on).days
    if _is_withdrawn(release, on):
        phase = ReleasePhase.WITHDRAWN
    elif days < 0:
        phase = ReleasePhase.EXPIRED
    else:
        phase = ReleasePhase.EXPIRING if days <= EXPIRING_DAYS else ReleasePhase.RELEASED
    return ReleaseStatus(phase, release, days)


def _is_withdrawn(release: Release, on: date) -> bool:
    return release.withdrawn_at is not None and school_day(release.withdrawn_at) <= on


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
