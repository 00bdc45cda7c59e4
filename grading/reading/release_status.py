"""This module says where in its life a student's release for solo by day is: in force, expiring, expired, withdrawn."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
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
    """Describe the release that counts on a day; `days`: to its last day, negative once it has expired.

    renewed_until: the last day of those signed in advance that go on without a gap, to which `days` count then.
    next_begins: the first day of the next one that is signed, where this one is over or a gap follows it.
    """

    phase: ReleasePhase
    release: Release
    days: int
    renewed_until: date | None = None
    next_begins: date | None = None

    @property
    def headline(self) -> str:
        """Return the phase in a sentence. It states what was signed and permits nothing."""
        return f"{self.words}. No solo{self._kind} {self.until_when}." if self.is_over else f"{self.words}."

    @property
    def headline_to_student(self) -> str:
        """Return the same to the student whose release it is."""
        kind, until = self._kind, write_day(self.release.valid_until)
        if self.phase is ReleasePhase.WITHDRAWN:
            withdrawn = write_day(self.withdrawn_on)
            return f"Your release{kind} was withdrawn on {withdrawn}. No solo{kind} {self._until_a_new_one}."
        if self.phase is ReleasePhase.EXPIRED:
            return f"Your release{kind} expired on {until}. No solo{kind} {self._until_a_new_one}."
        until += self._renewed
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
        until += self._renewed
        if self.phase is ReleasePhase.EXPIRING:
            return f"Release for solo{kind} expires {self.days_words}, on {until}"
        return f"Released for solo{kind} until {until}"

    @property
    def _kind(self) -> str:
        """Return ' at night' and the like; nothing for the release by day, on which every other rests."""
        return "" if self.release.kind == Release.Kind.DAY else f" {self.release.get_kind_display()}"

    @property
    def until_when(self) -> str:
        """Return how long there is no solo, for a release that is over."""
        if self.next_begins:
            return f"before {write_day(self.next_begins)}, when the next release begins"
        return "until a new release"

    @property
    def _until_a_new_one(self) -> str:
        return self.until_when if self.next_begins else "until a new one"

    @property
    def _renewed(self) -> str:
        """Return what was signed in advance, as an addition to the last day of the one in force."""
        if self.renewed_until:
            return f", renewed until {write_day(self.renewed_until)}"
        return f"; the next one begins on {write_day(self.next_begins)}" if self.next_begins else ""

    @property
    def last_day(self) -> date:
        """Return the last day of the release with its renewals."""
        return self.renewed_until or self.release.valid_until

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
        return f"{status.words}: no solo {status.until_when}, {though}."
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
    ahead = [row for row in given if row.valid_from > on and not _is_withdrawn(row, on)]
    return _with_those_ahead(status_of(release, on), sorted(ahead, key=lambda row: row.valid_from), on)


def _with_those_ahead(status: ReleaseStatus, ahead: Iterable[Release], on: date) -> ReleaseStatus:
    """Return the status with what was signed in advance; ahead: what begins later, in the order of its days."""
    last = status.release.valid_until
    for row in ahead:
        if status.is_over or row.valid_from > last + timedelta(days=1):
            status = replace(status, next_begins=row.valid_from)
            break
        last = max(last, row.valid_until)
    if last == status.release.valid_until:
        return status
    return replace(status, phase=_phase_in_force(last, on), days=(last - on).days, renewed_until=last)


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
        phase = _phase_in_force(release.valid_until, on)
    return ReleaseStatus(phase, release, days)


def _phase_in_force(last: date, on: date) -> ReleasePhase:
    return ReleasePhase.EXPIRING if (last - on).days <= EXPIRING_DAYS else ReleasePhase.RELEASED


def _is_withdrawn(release: Release, on: date) -> bool:
    return release.withdrawn_at is not None and school_day(release.withdrawn_at) <= on
