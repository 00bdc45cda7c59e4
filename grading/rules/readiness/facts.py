"""Describe what is known about a student: the input of assess(). Frozen, and read from JSON by json_format.py.

Dates are calendar days of the school, durations are minutes. Whatever is dated after the day asked for is
ignored by the engine, so a whole history gives the verdict of any day.
"""

from dataclasses import dataclass, replace
from datetime import date

from grading.rules.counted_level import counted_level, part_taken_over
from lessons.rules.scale import Ending, Help, Level, Part, UnitKind

# The parts of a circuit that are counted in a row, in the order flown: names of the fields of CircuitFact.
COUNTED_PARTS = ("takeoff", "downwind", "approach", "landing")


@dataclass(frozen=True, slots=True)
class StudentFact:
    """Name the student. `certificate`: what they train for where a medical depends on it, such as "lapl"."""

    name: str
    born: date | None = None
    certificate: str = ""


@dataclass(frozen=True, slots=True)
class AircraftTypeFact:
    """Describe the type the student is to fly solo; None: not known. `horsepower`: of its strongest engine."""

    code: str
    name: str
    tailwheel: bool
    retractable: bool | None = None
    constant_speed_propeller: bool | None = None
    flaps: bool | None = None
    horsepower: int | None = None


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

    The tolerances `over` and `under` are not negative. counts: False before the unit that asks for this number.
    uncertainty: of a number from a flight track, 0 for one that was seen.
    """

    gate: str
    quantity: str
    amount: float
    over: float
    under: float
    unit: str
    counts: bool = True
    uncertainty: float = 0.0

    @property
    def key(self) -> str:
        return f"{self.gate}.{self.quantity}"

    @property
    def from_track(self) -> bool:
        return self.uncertainty > 0

    @property
    def outside(self) -> bool:
        """Return whether the number itself lies outside its tolerance; a number on the tolerance does not."""
        return not -self.under <= self.amount <= self.over

    @property
    def inside(self) -> bool:
        """Return whether the number lies inside its tolerance with its whole uncertainty; one on the tolerance does."""
        if not self.uncertainty:
            return not self.outside
        # Rounded far below what a track tells: an edge that is met exactly is met in floating point too.
        low, high = round(self.amount - self.uncertainty, 6), round(self.amount + self.uncertainty, 6)
        return -self.under <= low and high <= self.over


@dataclass(frozen=True, slots=True)
class AttemptFact:
    """Describe one attempt at a manoeuvre. `level` None: nobody graded it. `step`: its word on the school's scale.

    not_done: criteria in force that were seen not done; kept: why the instructor lets the tapped level stand.
    """

    manoeuvre: str
    level: Level | None = None
    help: Help = Help.NONE
    faults: tuple[FaultFact, ...] = ()
    step: str = ""
    numbers: tuple[GateNumberFact, ...] = ()
    not_done: tuple[str, ...] = ()
    kept: str = ""

    @property
    def observed(self) -> bool:
        # Spelled out and not by level.observed: it runs for every attempt of every student, and a call costs more.
        return self.level is not None and self.level is not Level.NOT_OBSERVED

    @property
    def critical(self) -> bool:
        return bool(self.faults) and any(fault.critical for fault in self.faults)

    @property
    def outside(self) -> bool:
        """Return whether a number that counts lies outside its tolerance."""
        return any(number.counts and number.outside for number in self.numbers)

    @property
    def counted(self) -> Level:
        """Return the level as which the attempt counts (grading/rules/counted_level.py)."""
        # The usual attempt first, without a call: this runs for every attempt of every student.
        if self.help is Help.NONE and not self.faults and not self.numbers and not self.not_done:
            return self.level or Level.NOT_OBSERVED
        return counted_level(
            self.level,
            self.help,
            critical=self.critical,
            not_done=bool(self.not_done),
            outside=self.outside,
            kept=bool(self.kept),
        )


@dataclass(frozen=True, slots=True)
class CircuitFact:
    """Describe one circuit. `shown`: flown by the instructor to show it, so nothing in it counts."""

    number: int
    ending: Ending | None = None
    takeoff: AttemptFact | None = None
    downwind: AttemptFact | None = None
    approach: AttemptFact | None = None
    landing: AttemptFact | None = None
    go_around: AttemptFact | None = None
    shown: bool = False

    @property
    def parts(self) -> tuple[AttemptFact, ...]:
        """Return the attempts of this circuit, in the order flown."""
        flown = (self.takeoff, self.downwind, self.approach, self.landing, self.go_around)
        return tuple(filter(None, flown))

    def with_control_taken(self) -> "CircuitFact":
        """Return the circuit with the help of the part in which control was taken, where only its ending tells it."""
        if self.ending is not Ending.TOOK_CONTROL:
            return self
        helps = {part: attempt.help for part in Part if (attempt := getattr(self, part)) is not None}
        part = part_taken_over(self.ending, helps)
        if part is None:
            return self
        return replace(self, **{part: replace(getattr(self, part), help=Help.TOOK_CONTROL)})


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
    def is_brought_forward(self) -> bool:
        """Return whether the lesson is from before this record; History numbers those −1, −2 and so on."""
        return self.number < 0

    @property
    def attempts(self) -> tuple[AttemptFact, ...]:
        """Return what the student flew: nothing of a circuit that was shown."""
        flown = (circuit for circuit in self.circuits if not circuit.shown)
        return tuple(part for circuit in flown for part in circuit.parts) + self.manoeuvres


@dataclass(frozen=True, slots=True)
class BroughtForwardFact:
    """Name the lessons from before this record that count as evidence, by whose decision and why.

    on: the day of the decision. Of the lessons only the graded parts of their circuits are looked at: of help, faults,
    numbers and training items a table copied from paper says nothing.
    """

    on: date
    by: str
    reason: str
    lessons: tuple[LessonFact, ...] = ()


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
    brought_forward: BroughtForwardFact | None = None
