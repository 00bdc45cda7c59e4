"""Hold what a record says as plain values for the rules. Pure: keys are those of the database, times are aware."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple
from uuid import UUID

from grading.rules.in_force import is_in_force, is_withdrawn_by
from grading.rules.readiness.facts import PaperFact
from grading.rules.readiness.standard import DEFAULT_POLICY, Policy
from lessons.rules.scale import UnitKind


class InspectedLesson(NamedTuple):
    """Describe a lesson that counts or is being written; one that a signed correction replaced is left out.

    A named tuple, because thousands of them are made straight from the rows of a query; durations are minutes.

    `before`: the day of the lesson before it in the enrolment, None for the first.
    `answer`: the student's act under it, None while there is none. `circuits` and `landed` (those that ended
    with a landing) are counted only where takeoffs or landings are 0. `day_end`: the first moment after its day.
    """

    key: int
    uid: UUID
    enrolment: int
    student: int
    number: int
    version: int
    on: date
    unit_kind: str
    instructor: int
    instructor_name: str
    aircraft: int | None
    registration: str | None
    aircraft_type: int | None
    runway: int | None
    off_blocks: datetime | None
    on_blocks: datetime | None
    dual: int
    solo: int
    night: int
    instrument: int
    ground: int
    takeoffs: int
    landings: int
    reason: str
    begun_at: datetime
    signed_at: datetime | None
    answer: str | None
    circuits: int
    landed: int
    before: date | None
    day_end: datetime

    @property
    def flown(self) -> bool:
        return self.unit_kind != UnitKind.GROUND

    @property
    def is_solo(self) -> bool:
        return self.unit_kind == UnitKind.SOLO or self.solo > 0

    @property
    def is_correction_draft(self) -> bool:
        return self.version > 1 and self.signed_at is None

    @property
    def flight(self) -> int:
        """Return the flight time in minutes."""
        return self.dual + self.solo

    @property
    def end(self) -> datetime:
        """Return the time on blocks, or the end of the lesson's day at the school where that is not known."""
        # The latest moment it can have been: nobody is told that a signature is late when it may not be.
        return self.on_blocks or self.day_end


@dataclass(frozen=True, slots=True)
class InspectedDiscard:
    """Describe a lesson that was discarded before it was signed; `entries`: how many had been made in it."""

    uid: UUID
    number: int
    version: int
    on: date
    by_name: str
    entries: int
    reason: str


@dataclass(frozen=True, slots=True)
class WrittenTest:
    """Describe a written test. `topics` is empty for one that is not the pre-solo test; `wrong` counts answers."""

    on: date
    title: str
    topics: tuple[str, ...]
    aircraft_type: int
    wrong: int
    reviewed: date | None


@dataclass(frozen=True, slots=True)
class InspectedEndorsement:
    """Describe an endorsement for solo. `withdrawn` is the day of its withdrawal."""

    on: date
    by: int
    aircraft_type: int
    withdrawn: date | None

    def is_in_force(self, on: date) -> bool:
        return self.on <= on and not is_withdrawn_by(self.withdrawn, on)


@dataclass(frozen=True, slots=True)
class InspectedRelease:
    """Describe a release for solo by day."""

    valid_from: date
    valid_until: date
    withdrawn: date | None
    aircraft_type: int
    by: int
    by_name: str

    def is_in_force(self, on: date) -> bool:
        return is_in_force(self.valid_from, self.valid_until, self.withdrawn, on)


@dataclass(frozen=True, slots=True)
class InspectedCertificate:
    """Describe an instructor's certificate whose number is on record; `until`: its expiry or recent-experience date."""

    issued: date
    until: date


@dataclass(frozen=True)
class InspectedRecord:
    """Describe one enrolment with everything on record about it.

    Lessons are in the order flown: those that may give cause for a finding, every solo flight, and the last one; the
    others may be left out.

    `outside`: by the key of a solo lesson, what of it lies outside the releases of its day. `after_withdrawal`: the
    same, signed or not, of a solo that no release allowed: which withdrawal came before it. `policy`: the limits of
    the standard in force.
    """

    enrolment: int
    uid: UUID
    student: int
    student_name: str
    born: date | None
    instructor: int
    instructor_name: str
    aircraft_type: int
    type_name: str
    enrolled_on: date
    ended_on: date | None = None
    end: str = ""
    certified: bool = False
    lessons: Sequence[InspectedLesson] = ()
    discarded: Sequence[InspectedDiscard] = ()
    papers: Sequence[PaperFact] = ()
    tests: Sequence[WrittenTest] = ()
    endorsements: Sequence[InspectedEndorsement] = ()
    releases: Sequence[InspectedRelease] = ()
    outside: Mapping[int, Sequence[str]] = field(default_factory=dict)
    after_withdrawal: Mapping[int, str] = field(default_factory=dict)
    policy: Policy = DEFAULT_POLICY

    @property
    def solo_flights(self) -> list[InspectedLesson]:
        return [lesson for lesson in self.lessons if lesson.is_solo and lesson.signed_at]
