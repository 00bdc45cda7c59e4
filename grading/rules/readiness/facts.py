"""Describe what is known about a student: the input of assess(). Frozen, and read from JSON by json_format.py.

Dates are calendar days in UTC, durations are minutes. Whatever is dated after the day asked for is
ignored by the engine, so a whole history gives the verdict of any day.
"""

from dataclasses import dataclass
from datetime import date

from lessons.rules.scale import Ending, Help, Level, UnitKind

# The parts of a circuit that are counted in a row, in the order flown: names of the fields of CircuitFact.
COUNTED_PARTS = ("takeoff", "approach", "landing")


@dataclass(frozen=True, slots=True)
class StudentFact:
    name: str
    born: date | None = None


@dataclass(frozen=True, slots=True)
class AircraftTypeFact:
    """Describe the type the student is to fly solo."""

    code: str
    name: str
    tailwheel: bool


@dataclass(frozen=True, slots=True)
class PaperFact:
    """Describe a document. A medical is issued on the day of its examination.

    recorded: the day it was put on record; void_from: the day from which its entry no longer counts.
    """

    kind: str
    issued: date
    expires: date | None = None
    medical_class: str | None = None
    recorded: date | None = None
    void_from: date | None = None


@dataclass(frozen=True, slots=True)
class KnowledgeTestFact:
    on: date
    aircraft_type: str
    topics: tuple[str, ...]
    wrong: int
    reviewed: date | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class EndorsementFact:
    kind: str
    on: date
    by: str
    aircraft_type: str | None = None
    withdrawn: date | None = None


@dataclass(frozen=True, slots=True)
class FaultFact:
    code: str
    name: str
    critical: bool = False


@dataclass(frozen=True, slots=True)
class GateNumberFact:
    """Give a number read at a gate as its deviation from the target of that day, all in `unit`.

    The tolerances `over` and `under` are not negative.
    """

    gate: str
    quantity: str
    amount: float
    over: float
    under: float
    unit: str

    @property
    def key(self) -> str:
        return f"{self.gate}.{self.quantity}"


@dataclass(frozen=True, slots=True)
class AttemptFact:
    """Describe one attempt at a manoeuvre. `level` None: nobody graded it. `step`: its word on the school's scale."""

    manoeuvre: str
    level: Level | None = None
    help: Help = Help.NONE
    faults: tuple[FaultFact, ...] = ()
    step: str = ""
    numbers: tuple[GateNumberFact, ...] = ()

    @property
    def observed(self) -> bool:
        # Spelled out and not by level.observed: it runs for every attempt of every student, and a call costs more.
        return self.level is not None and self.level is not Level.NOT_OBSERVED

    @property
    def critical(self) -> bool:
        return bool(self.faults) and any(fault.critical for fault in self.faults)


@dataclass(frozen=True, slots=True)
class CircuitFact:
    number: int
    ending: Ending | None = None
    takeoff: AttemptFact | None = None
    approach: AttemptFact | None = None
    landing: AttemptFact | None = None
    go_around: AttemptFact | None = None

    @property
    def parts(self) -> tuple[AttemptFact, ...]:
        """Return the attempts of this circuit, in the order flown."""
        return tuple(filter(None, (self.takeoff, self.approach, self.landing, self.go_around)))


@dataclass(frozen=True, slots=True)
class LessonFact:
    """Describe a lesson as its instructor signed it. `training`: items of the rule that were taught in it."""

    number: int
    on: date
    instructor: str
    signed: date | None = None
    aircraft_type: str = ""
    unit: str = ""
    kind: UnitKind = UnitKind.DUAL
    training: tuple[str, ...] = ()
    circuits: tuple[CircuitFact, ...] = ()
    manoeuvres: tuple[AttemptFact, ...] = ()
    dual_minutes: int = 0
    solo_minutes: int = 0
    id: str = ""

    @property
    def attempts(self) -> tuple[AttemptFact, ...]:
        return tuple(part for circuit in self.circuits for part in circuit.parts) + self.manoeuvres


@dataclass(frozen=True, slots=True)
class SetAsideFact:
    """Record that the chief instructor waives a school requirement, for a written reason."""

    requirement: str
    on: date
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Facts:
    student: StudentFact
    aircraft_type: AircraftTypeFact
    own_instructor: str | None = None
    papers: tuple[PaperFact, ...] = ()
    knowledge_tests: tuple[KnowledgeTestFact, ...] = ()
    endorsements: tuple[EndorsementFact, ...] = ()
    lessons: tuple[LessonFact, ...] = ()
    set_aside: tuple[SetAsideFact, ...] = ()
