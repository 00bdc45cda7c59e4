"""This module says where in its life a student's release for solo by day is: in force, expiring, expired, withdrawn."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from grading.models import Release
from grading.rules.readiness import Verdict
from school.current import school_day
from school.formats import write_day

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
        return f"{self.words}. No solo{self._kind} until a new release." if self.is_over else f"{self.words}."

    @property
    def headline_to_student(self) -> str:
        """Return the same to the student whose release it is."""
        kind, until = self._kind, write_day(self.release.valid_until)
        if self.phase is ReleasePhase.WITHDRAWN:
            return f"Your release{kind} was withdrawn on {write_day(self.withdrawn_on)}. No solo{kind} until a new one."
        if self.phase is ReleasePhase.EXPIRED:
            return f"Your release{kind} expired on {until}. No solo{kind} until a new one."
        if self.phase is ReleasePhase.EXPIRING:
            return f"Your release for solo{kind} expires {self.days_words}, on {until}."
        return f"You are released for solo{kind} until {until}."

    @property
    def words(self) -> str:
        """Return the phase as a clause, for a sentence that goes on."""
        kind, until = self._kind, write_day(self.release.valid_until)
        if self.phase is ReleasePhase.WITHDRAWN:
            on = write_day(self.withdrawn_on)
            return f"Release{kind} withdrawn on {on} by {self.release.withdrawn_by}"
        if self.phase is ReleasePhase.EXPIRED:
            return f"Release{kind} expired on {until}"
        if self.phase is ReleasePhase.EXPIRING:
            return f"Release for solo{kind} expires {self.days_words}, on {until}"
        return f"Released for solo{kind} until {until}"

    @property
    def _kind(self) -> str:
        """Return ' at night' and the like; nothing for the release by day, on which every other rests."""
        return "" if self.release.kind == Release.Kind.DAY else f" {self.release.get_kind_display()}"

    @property
    def days_words(self) -> str:
        """Return 'today', 'in 1 day' or 'in 9 days': how long a release in force still holds."""
        return {0: "today", 1: "in 1 day"}.get(self.days, f"in {self.days} days")

    @property
    def is_over(self) -> bool:
        """Return whether the student has no release any more."""
        return self.phase in (ReleasePhase.WITHDRAWN, ReleasePhase.EXPIRED)

    @property
    def reason(self) -> str:
        """Return why it was withdrawn; empty as long as that was not known on the day."""
        return self.release.withdrawal_reason if self.phase is ReleasePhase.WITHDRAWN else ""

    @property
    def is_unconfirmed(self) -> bool:
        """Return whether the student has not confirmed yet that they have read the withdrawal."""
        return self.phase is ReleasePhase.WITHDRAWN and self.release.withdrawal_read_at is None

    @property
    def withdrawn_on(self) -> date:
        assert self.release.withdrawn_at is not None
        return school_day(self.release.withdrawn_at)


def headline_with_verdict(status: ReleaseStatus | None, verdict: Verdict) -> str:
    """Return release and requirements in one sentence: met requirements never stand there as if they released."""
    if status is None:
        return verdict.headline
    if status.is_over:
        though = f"though {verdict.count_words}" if verdict.ready else f"and {verdict.count_words}"
        return f"{status.words}: no solo until a new release, {though}."
    return f"{status.words}; {verdict.count_words}."


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
    return status_of(release, on)


def unconfirmed_withdrawals(releases: Iterable[Release], on: date) -> list[ReleaseStatus]:
    """Return the withdrawals, of any kind, that the student has to confirm: no later release of the kind was given."""
    newest = {row.kind: row for row in sorted(releases, key=lambda row: (row.decided_at, row.pk))}
    # That by day first: every other rests on it.
    rows = sorted(newest.values(), key=lambda row: row.kind != Release.Kind.DAY)
    return [status for row in rows if (status := status_of(row, on)).is_unconfirmed]


def status_of(release: Release, on: date) -> ReleaseStatus:
    """Return the status on a day of one release that is given and has begun, of any kind. No query."""
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
