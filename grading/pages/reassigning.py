"""This module shows before students are reassigned who moves, what hangs on it, and what stays with whom."""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import F, QuerySet

from grading.models import Release
from grading.reading.board_query import BoardRequest, select_rows
from grading.reading.expiring import Expiry, expiries_of_instructors
from lessons.actions import INSTRUCTOR_CHANGED
from lessons.models import Enrolment, Lesson
from lessons.reassigning import MOST_AT_ONCE
from lessons.rules.scale import UnitKind
from school.formats import write_list
from school.models import JournalEntry, Paper, Person, Role

ACTS_SHOWN = 5


@dataclass(frozen=True)
class StudentToMove:
    """A student of the choice: what hangs on the present instructor, and why the student cannot move."""

    enrolment: Enrolment
    unsigned: Sequence[Lesson]
    releases: Sequence[Release]
    ticked: bool
    refused: str = ""

    @property
    def key(self) -> str:
        """Return what the form sends: the student, and whose student it was when this was shown."""
        return f"{self.enrolment.uid}:{self.enrolment.instructor_id}"

    @property
    def moves(self) -> bool:
        return self.ticked and not self.refused

    @property
    def ties(self) -> list[str]:
        """Return what hangs on the present instructor, a sentence each."""
        teacher = self.enrolment.instructor
        lines = []
        if self.unsigned:
            days = write_list(f"{row.on.day} {row.on:%b %Y}" for row in self.unsigned[:3])
            more = f" and {len(self.unsigned) - 3} more" if len(self.unsigned) > 3 else ""
            noun = "lesson" if len(self.unsigned) == 1 else "lessons"
            lines.append(f"{len(self.unsigned)} {noun} to sign by {teacher}: {days}{more}")
        lines += [
            f"Release for solo until {row.valid_until.day} {row.valid_until:%b %Y}, endorsed by {row.endorsed_by}"
            for row in self.releases
        ]
        return lines


@dataclass(frozen=True)
class Preview:
    """What the act would do. `stays`: sentences about each present instructor afterwards."""

    moving: Sequence[StudentToMove]
    held_back: Sequence[StudentToMove]
    instructor: Person
    now: int
    expiries: Sequence[Expiry]
    has_certificate: bool
    stays: Sequence[str]
    stage_checks: Sequence[Lesson]

    @property
    def afterwards(self) -> int:
        return self.now + len(self.moving)

    @property
    def releases(self) -> int:
        return sum(len(row.releases) for row in self.moving)

    @property
    def unsigned(self) -> int:
        return sum(len(row.unsigned) for row in self.moving)

    @property
    def seen(self) -> str:
        """Return a digest of what is shown, which the form sends back: what is done is what was looked at."""
        keys = sorted(f"{row.key}/{row.ties}" for row in self.moving)
        return hashlib.sha256(f"{self.instructor.pk} {keys}".encode()).hexdigest()[:16]


def students_to_choose(asked: BoardRequest, on: date) -> QuerySet[Enrolment]:
    """Return the students that a view of the board or a search leaves, by name; those enrolled from a later day too."""
    rows = Enrolment.objects.filter(ended_on=None).search(asked.q)
    if asked.instructor.isdecimal():
        rows = rows.filter(instructor=int(asked.instructor))
    if asked.aircraft.isdecimal():
        rows = rows.filter(aircraft_type=int(asked.aircraft))
    if asked.show or asked.unit:
        rows = rows.filter(pk__in=select_rows(asked, on).order_by().values("enrolment"))
    return rows.for_pages().order_by("student__family_name", "student__given_name", "pk")


def load_choice(
    rows: Sequence[Enrolment], ticked: Collection[UUID], to: Person | None, on: date
) -> list[StudentToMove]:
    """Return each student with what hangs on the present instructor. Two queries."""
    # Only theirs: what another instructor gave stays with that one, whoever is assigned.
    lessons = Lesson.objects.unsigned().filter(enrolment__in=rows, instructor=F("enrolment__instructor"))
    unsigned: dict[int, list[Lesson]] = defaultdict(list)
    for lesson in lessons.in_order():
        unsigned[lesson.enrolment_id].append(lesson)
    named = Release.objects.in_force(on).filter(enrolment__in=rows, endorsed_by=F("enrolment__instructor"))
    releases: dict[int, list[Release]] = defaultdict(list)
    for release in named.select_related("endorsed_by").order_by("pk"):
        releases[release.enrolment_id].append(release)
    return [
        StudentToMove(row, unsigned[row.pk], releases[row.pk], row.uid in ticked, _refused(row, to) if to else "")
        for row in rows
    ]


def _refused(row: Enrolment, to: Person) -> str:
    if row.instructor_id == to.pk:
        return f"{to} is the assigned instructor already"
    return "Nobody may teach in their own training" if row.student_id == to.pk else ""


def build_preview(choice: Sequence[StudentToMove], to: Person, on: date) -> Preview:
    """Return who moves and what follows. Six queries, however many students."""
    moving = [row for row in choice if row.moves]
    papers = Paper.objects.in_force().filter(kind=Paper.Kind.INSTRUCTOR_CERTIFICATE, person=to)
    # A stage check is a second opinion: written by who is now assigned, it would be a check of their own teaching.
    checks = Lesson.objects.unsigned().filter(
        enrolment__in=[row.enrolment for row in moving], instructor=to, unit__kind=UnitKind.STAGE_CHECK
    )
    return Preview(
        moving=moving,
        held_back=[row for row in choice if row.ticked and row.refused],
        instructor=to,
        now=Enrolment.objects.filter(instructor=to, ended_on=None).count(),
        expiries=expiries_of_instructors(on, only=to),
        has_certificate=papers.exists(),
        stays=_stays([row.enrolment for row in moving]),
        stage_checks=list(checks.select_related("enrolment__student", "unit").in_order()),
    )


def _stays(moving: Iterable[Enrolment]) -> list[str]:
    """Say of each present instructor what is theirs afterwards: other students, and lessons only they can sign."""
    leaving = Counter(row.instructor for row in moving)
    counted = Counter(
        Enrolment.objects.filter(instructor__in=leaving, ended_on=None).values_list("instructor", flat=True)
    )
    waiting = Counter(Lesson.objects.unsigned().filter(instructor__in=leaving).values_list("instructor", flat=True))
    lines = []
    for teacher, count in sorted(leaving.items(), key=lambda pair: (pair[0].family_name, pair[0].pk)):
        rest, lessons = counted[teacher.pk] - count, waiting[teacher.pk]
        students = f"{rest} other student{'' if rest == 1 else 's'}" if rest else "no student"
        said = f"{teacher} then has {students}"
        if lessons:
            noun = "lesson that only they" if lessons == 1 else "lessons that only they"
            said += f", and {lessons} {noun} can sign or discard"
        lines.append(f"{said}.")
    return lines


def instructors_to_choose() -> QuerySet[Person]:
    rows: QuerySet[Person] = Person.objects.active_with_role(Role.INSTRUCTOR).by_name()
    return rows


def instructors_with_students() -> list[tuple[Person, int]]:
    """Return everybody who is assigned to a student, also without access or role, with how many. Two queries."""
    counted = Counter(Enrolment.objects.filter(ended_on=None).values_list("instructor", flat=True))
    return [(row, counted[row.pk]) for row in Person.objects.filter(pk__in=counted).by_name()]


def choice_words(asked: BoardRequest, teacher: Person | None, count: int) -> str:
    """Return whose students are listed, in words."""
    noun = "student" if count == 1 else "students"
    if teacher and not (asked.q or asked.show or asked.unit or asked.aircraft):
        return f"{count} {noun} of {teacher}"
    if any(asked):
        return f"{count} {noun} of this view of the board"
    most = f", the first {MOST_AT_ONCE} by name" if count > MOST_AT_ONCE else ""
    return f"{count} {noun}{most}"


@dataclass(frozen=True)
class LatestAct:
    """A reassignment of several students at once, by its first entry in the journal."""

    entry: JournalEntry
    students: int


def latest_acts(since: datetime) -> list[LatestAct]:
    """Return the reassignments of many students since a moment, newest first. One query."""
    # Of one student reassigned on a page of their own no reason is asked: it is no act of many.
    many = JournalEntry.objects.filter(what=INSTRUCTOR_CHANGED, at__gte=since, after__has_key="reason")
    acts: dict[tuple[datetime, int | None], list[JournalEntry]] = defaultdict(list)
    for entry in many.order_by("-at", "pk")[:1000]:
        acts[entry.at, entry.person_id].append(entry)
    return [LatestAct(rows[0], len(rows)) for rows in acts.values()][:ACTS_SHOWN]
