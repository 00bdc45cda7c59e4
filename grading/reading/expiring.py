"""This module lists papers that expire: students' by verdict, instructors' by certificate, and those of aircraft."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from grading.models import Release
from grading.reading.student_summary import StudentSummary
from school.aircraft_documents import fleet_expiries
from school.formats import write_day
from school.models import Aircraft, Paper, Person, Role

REMINDER_DAYS = (60, 30, 7)
RELEASE = "Release for solo"


@dataclass(frozen=True)
class Expiry:
    """A paper of a person or of an aircraft with its last day; `days` to go are below 0 once it has expired."""

    holder: Person | Aircraft
    what: str
    until: date
    days: int

    @property
    def name(self) -> str:
        return self.holder.registration if isinstance(self.holder, Aircraft) else self.holder.name

    @property
    def reference(self) -> str:
        """Return what names the holder in other programs: the school number, or the registration."""
        return self.holder.registration if isinstance(self.holder, Aircraft) else self.holder.reference

    @property
    def words(self) -> str:
        day = write_day(self.until)
        if self.days < 0:
            return f"{self.what}: expired on {day}"
        left = {0: "today", 1: "tomorrow"}.get(self.days, f"in {self.days} days")
        return f"{self.what}: expires {left}, on {day}"


def expiries_of_students(rows: Iterable[StudentSummary], on: date, within: int = max(REMINDER_DAYS)) -> list[Expiry]:
    """Return the papers of students that expire within this number of days, the nearest first. No query."""
    expiries = [
        paper
        for row in rows
        for paper in expiries_of_student(
            row.enrolment.student,
            [(o.title, o.until) for o in row.verdict.requirements if o.group == "papers" and o.until is not None],
            # One that was renewed in advance asks for nothing.
            None if row.status and row.status.renewed_until else row.release,
            on,
            within,
        )
    ]
    return sorted(expiries, key=lambda row: row.until)


def expiries_of_student(
    student: Person,
    papers: Iterable[tuple[str, date]],
    release: Release | None,
    on: date,
    within: int = max(REMINDER_DAYS),
) -> list[Expiry]:
    """Return which of these papers, and whether the release, expire within this number of days. No query.

    `papers`: each title with its last day.
    """
    until = [*papers, *([(RELEASE, release.valid_until)] if release else [])]
    expiries = [Expiry(student, what, day, (day - on).days) for what, day in until]
    return sorted((row for row in expiries if row.days <= within), key=lambda row: row.until)


def expiries_of_instructors(on: date, within: int = max(REMINDER_DAYS), only: Person | None = None) -> list[Expiry]:
    """Return instructor certificates by expiry or recent-experience date, the newest paper of each. One query.

    `only`: return those of this instructor alone.
    """
    papers = Paper.objects.in_force().filter(
        kind=Paper.Kind.INSTRUCTOR_CERTIFICATE, person__roles__contains=[Role.INSTRUCTOR], person__is_active=True
    )
    if only is not None:
        papers = papers.filter(person=only)
    # Oldest first, so that the newest paper of each person is the one that stays in the dict.
    newest = {paper.person_id: paper for paper in papers.select_related("person").order_by("issued")}
    expiries = []
    for paper in newest.values():
        # A certificate has an expiry or a recent-experience date (14 CFR 61.51(h)(2)(ii)); one without both has
        # nothing to remind of.
        until = paper.expires or paper.recent_experience_until
        if until is not None and (until - on).days <= within:
            what = "Instructor certificate" if paper.expires else "Recent experience as an instructor"
            expiries.append(Expiry(paper.person, what, until, (until - on).days))
    return sorted(expiries, key=lambda row: row.until)


def expiries_of_aircraft(on: date, within: int = max(REMINDER_DAYS)) -> list[Expiry]:
    """Return the documents of aircraft in service that expire within this number of days. One query."""
    return [Expiry(row.aircraft, row.what, row.until, row.days) for row in fleet_expiries(on, within)]


def due_today(found: Sequence[Expiry]) -> list[Expiry]:
    """Return those to remind of today: on the days of REMINDER_DAYS, and on the day after the paper expired."""
    # By exact days, so that the daily job needs no memory of what it has sent.
    return [row for row in found if row.days in (*REMINDER_DAYS, -1)]
