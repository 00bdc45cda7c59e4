"""Prepare the pad of one circuit: its parts, how it ended, its kind of landing; and the strip of all circuits."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from grading.actions.circuit_entries import usual_landing_kind
from grading.models import Attempt
from grading.pages.gate_numbers import MeasureEntry
from grading.pages.pad_keys import CriterionEntry, FaultEntry, PadKey
from grading.pages.pads import AttemptSummary, PadMaker
from grading.reading.grade_lines import count_attempt, parts_taken_over, tapped_step
from grading.rules.readiness.faults import FaultStatus
from lessons.models import Circuit, Lesson
from lessons.models.published_values import PublishedTarget
from lessons.published_content import syllabus_criteria, unit_manoeuvres
from lessons.rules.landing_kinds import kinds_of_type
from lessons.rules.scale import Ending, Help, LandingKind, Level, Part, Scale, UnitKind
from school.fragment_cache import CachedFragment

# As many as lie over half of the pad, and as many as a phone shows beside the levels.
FAULTS_FIRST, FAULTS_QUICK, NUMBERS_FIRST = 6, 3, 4
ENDING_KEYS = {
    Ending.FULL_STOP: "Full stop",
    Ending.TOUCH_AND_GO: "Touch-and-go",
    Ending.GO_AROUND: "Go-around",
}
# By manoeuvre and code of the fault: what the student has open.
OpenFaults = Mapping[tuple[str, str], FaultStatus]


@dataclass(frozen=True)
class PartPad:
    """The keys of one part: everything that grading/_part_pad.html shows.

    help: that of the attempt, which may be control that was taken. off: why the part has no keys in this circuit.
    """

    part: str
    number: int
    title: str
    state: str
    levels: tuple[PadKey, ...]
    help: str
    solo: bool
    kept: str
    faults: tuple[FaultEntry, ...]
    criteria: tuple[CriterionEntry, ...]
    measures: tuple[MeasureEntry, ...]
    off: str = ""

    @property
    def prefix(self) -> str:
        return f"circuit.{self.number}.{self.part}"

    @property
    def id(self) -> str:
        return f"circuit-{self.number}-{self.part}"

    @property
    def helps(self) -> list[PadKey]:
        words = (Help.PROMPTED, Help.ASSISTED)
        return [PadKey(word.value, word.label, word == self.help) for word in words]

    @property
    def first_faults(self) -> tuple[FaultEntry, ...]:
        return self.faults[:FAULTS_FIRST]

    @property
    def more_faults(self) -> tuple[FaultEntry, ...]:
        return self.faults[FAULTS_FIRST:]

    @property
    def quick_faults(self) -> tuple[FaultEntry, ...]:
        return self.faults[:FAULTS_QUICK]

    @property
    def first_measures(self) -> tuple[MeasureEntry, ...]:
        return self.measures[:NUMBERS_FIRST]

    @property
    def more_measures(self) -> tuple[MeasureEntry, ...]:
        return self.measures[NUMBERS_FIRST:]

    @property
    def fragment(self) -> CachedFragment:
        return CachedFragment(("part pad", self), lambda: {"keys": self})


@dataclass(frozen=True)
class CircuitPart:
    """A part of the pad, and what its numbers, faults and criteria say under the keys."""

    keys: PartPad
    summary: AttemptSummary


@dataclass(frozen=True)
class StripColumn:
    """One circuit in the strip: a mark for each part, and the same in a sentence."""

    number: int
    closed: bool
    shown: bool
    marks: tuple[tuple[tuple[str, str], ...], ...]
    words: str

    @property
    def fragment(self) -> CachedFragment:
        return CachedFragment(("strip column", self), lambda: {"column": self})


@dataclass(frozen=True)
class CircuitPad:
    """The pad of one circuit. `next`: the circuit to go back to from one that was opened again.

    solo_step: code and label of the step that the main key gives. lowered, taken: the steps as which it counts at most.
    """

    number: int
    reopened: bool
    next: int
    ending: str
    endings: list[PadKey]
    kinds: list[PadKey]
    shown: bool
    solo: bool
    parts: list[CircuitPart]
    go_around: CircuitPart
    took: list[PadKey]
    solo_step: PadKey
    lowered: str
    taken: str


class CircuitPadMaker:
    """Makes the pad and the strip of one lesson from rows that were read before."""

    def __init__(
        self,
        lesson: Lesson,
        maker: PadMaker,
        circuits: Sequence[Circuit],
        attempts: Sequence[Attempt],
        open_faults: Callable[[], OpenFaults] = dict,
    ) -> None:
        self.lesson, self.maker, self.circuits, self.attempts = lesson, maker, circuits, attempts
        self.open_faults = open_faults
        self.taken = parts_taken_over(attempts)

    @property
    def flown_parts(self) -> tuple[Part, ...]:
        """Return the parts before a landing or go-around; an older syllabus does not grade the downwind leg."""
        parts = (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH)
        return tuple(part for part in parts if part is not Part.DOWNWIND or self.maker.grades_downwind)

    def attempt(self, number: int, part: Part) -> Attempt | None:
        flown = (row for row in self.attempts if row.circuit and row.circuit.number == number)
        return next((row for row in flown if row.part == part), None)

    def pad(self, number: int) -> CircuitPad:
        by_number = {row.number: row for row in self.circuits}
        circuit, before = by_number.get(number), by_number.get(number - 1)
        typed, prefix = self.maker.typed, f"circuit.{number}"
        ending = typed.get(f"{prefix}.ending", circuit.ending if circuit else self.lesson.unit.ending)
        kind = circuit.landing_kind if circuit else usual_landing_kind(self.lesson, before)
        scale, unit = self.maker.grading_context.scale, self.lesson.unit
        solo_step = scale.step(scale.solo)
        parts = [self.part(number, part) for part in (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH, Part.LANDING)]
        return CircuitPad(
            number=number,
            reopened=bool(circuit and circuit.closed),
            next=next_number(self.circuits),
            ending=ending,
            endings=[PadKey(word.value, label, word == ending) for word, label in ENDING_KEYS.items()],
            kinds=self._kinds(typed.get(f"{prefix}.landing_kind", kind)),
            shown=typed.get(f"{prefix}.shown", "on" if circuit and circuit.shown else "") == "on",
            solo=unit.kind == UnitKind.SOLO,
            parts=parts,
            go_around=self.part(number, Part.GO_AROUND),
            took=[
                PadKey(row.keys.part, row.keys.title, ending == Ending.TOOK_CONTROL and row.keys.help == "took_control")
                for row in parts
                if row.keys.levels
            ],
            solo_step=PadKey(solo_step.code, solo_step.label, False, solo_step.level.value),
            lowered=scale.cap(solo_step, Level.PRACTICE).code,
            taken=scale.cap(solo_step, Level.EXPLAIN).code,
        )

    def _kinds(self, kind: str) -> list[PadKey]:
        type_flown = self.lesson.aircraft.type if self.lesson.aircraft else self.lesson.enrolment.aircraft_type
        kinds = list(kinds_of_type(type_flown.tailwheel))
        # Written with another type, or on another day: it is shown as it stands.
        if kind and LandingKind(kind) not in kinds:
            kinds[-1] = LandingKind(kind)
        return [PadKey(word.value, word.label.capitalize(), word == kind) for word in kinds]

    def part(self, number: int, part: Part) -> CircuitPart:
        prefix, attempt = f"circuit.{number}.{part.value}", self.attempt(number, part)
        keys = self._part_keys(number, part, prefix, attempt)
        known = self.maker.faults_of(part.value)
        return CircuitPart(keys, AttemptSummary.of(prefix, attempt, self.maker.grading_context, known))

    def _part_keys(self, number: int, part: Part, prefix: str, attempt: Attempt | None) -> PartPad:
        make = partial(
            PartPad,
            part=part.value,
            number=number,
            title=part.label,
            solo=self.lesson.unit.kind == UnitKind.SOLO,
            off=self._off(number, part, attempt),
        )
        if part is Part.DOWNWIND and not self.maker.grades_downwind:
            return make(state="", levels=(), help="none", kept="", faults=(), criteria=(), measures=())
        typed = self.maker.typed
        faults = self.maker.fault_entries(prefix, part.value, attempt)
        return make(
            state=self.state(attempt),
            levels=self.maker.level_keys(typed.get(f"{prefix}.level", attempt.tapped if attempt else "")),
            help=typed.get(f"{prefix}.help", attempt.help if attempt else Help.NONE.value),
            kept=typed.get(f"{prefix}.kept", attempt.kept if attempt else ""),
            faults=tuple(self._ranked(part, faults)),
            criteria=tuple(self.maker.criterion_entries(prefix, part.value, attempt)),
            measures=tuple(self.maker.measure(prefix, row, attempt) for row in self._ranked_targets(part)),
        )

    def _off(self, number: int, part: Part, attempt: Attempt | None) -> str:
        if part is Part.DOWNWIND and not self.maker.grades_downwind:
            return "This syllabus does not grade the downwind leg."
        before = next((row for row in self.circuits if row.number == number - 1), None)
        if part is Part.TAKEOFF and before is not None and before.ending == Ending.GO_AROUND and attempt is None:
            return "No takeoff: the circuit before ended with a go-around."
        return ""

    def state(self, attempt: Attempt | None) -> str:
        """Return in words what was tapped, and as what it counts where that is less."""
        if attempt is None:
            return "not tapped"
        context = self.maker.grading_context
        step, counted = tapped_step(attempt, context.scale), count_attempt(attempt, context, self.taken).step
        if step is None:
            return {"none": "not tapped", "took_control": "took control"}.get(attempt.help, attempt.help)
        if step == counted or not step.level.observed:
            return step.label
        return f"{step.label} tapped, counts {counted.label}"

    def _ranked(self, part: Part, faults: Iterable[FaultEntry]) -> list[FaultEntry]:
        """Return the likely ones first: open ones of this student, those of the unit, the syllabus's order."""
        standings = self.open_faults()
        others = {row.manoeuvre.code for row in unit_manoeuvres(self.lesson.unit_id)} - set(Part)
        of_unit = {row.code for code in others for row in self.maker.faults_of(code)}
        ranked = []
        for place, row in enumerate(faults):
            status = standings.get((part.value, row.code))
            if status is not None:
                row = _with_standing(row, f"open, clean {status.clean} of {status.needed}")
            # A fault that is seen in a manoeuvre of this unit beside the circuit, as drift in one of crosswind.
            ranked.append((status is None, row.code not in of_unit, place, row))
        rows = [row[-1] for row in sorted(ranked, key=lambda row: row[:3])]
        # One place is for what must never be far from the finger, such as wheels that were not checked.
        first, rest = rows[: FAULTS_FIRST - 1], rows[FAULTS_FIRST - 1 :]
        return first + sorted(rest, key=lambda row: row is not next((r for r in rest if r.critical), None))

    def _ranked_targets(self, part: Part) -> list[PublishedTarget]:
        """Return the targets of a part in the order flown, those first that the unit asks for."""
        asked = {
            (row.gate, row.quantity)
            for row in syllabus_criteria(self.lesson.unit.stage.syllabus_id)
            if row.manoeuvre.code == part.value and (row.from_unit or 0) <= self.lesson.unit.number
        }
        rows = self.maker.targets_under(part)
        return sorted(rows, key=lambda row: (row.gate.code, row.quantity) not in asked)

    def columns(self) -> list[StripColumn]:
        return [self.column(circuit) for circuit in self.circuits]

    def column(self, circuit: Circuit) -> StripColumn:
        flown = {Part(row.part): row for row in self.attempts if row.circuit_id == circuit.pk}
        went_around = circuit.ending == Ending.GO_AROUND
        marks, words = [], []
        for part in (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH, Part.LANDING):
            if part is Part.DOWNWIND and not self.maker.grades_downwind:
                continue
            row = flown.get(part)
            no_takeoff = part is Part.TAKEOFF and bool(self._off(circuit.number, part, row))
            cell = [_mark(row, self.maker.grading_context.scale)]
            if row is None and (no_takeoff or went_around):
                cell = []
            if part is Part.LANDING and went_around:
                cell.append(("go_around", "none"))
            marks.append(tuple(cell))
            words += ["no takeoff"] if no_takeoff else _part_words(part, row, self.maker.grading_context.scale)
        if row := flown.get(Part.GO_AROUND):
            words += _part_words(Part.GO_AROUND, row, self.maker.grading_context.scale)
        if circuit.shown:
            words = ["shown by the instructor"]
        said = "; ".join([*words, Ending(circuit.ending).label])
        return StripColumn(circuit.number, circuit.closed, circuit.shown, tuple(marks), said)


def next_number(circuits: Iterable[Circuit]) -> int:
    """Return the circuit to write in: the first that is open, else a new one."""
    rows = list(circuits)
    return next((row.number for row in rows if not row.closed), len(rows) + 1)


def _with_standing(row: FaultEntry, standing: str) -> FaultEntry:
    return FaultEntry(**{**{name: getattr(row, name) for name in row.__dataclass_fields__}, "standing": standing})


def _mark(attempt: Attempt | None, scale: Scale) -> tuple[str, str]:
    """Return level and help of the mark; two empty texts where there was nothing to grade."""
    if attempt is None:
        return "", ""
    step = tapped_step(attempt, scale)
    if step is None and attempt.help == Help.NONE:
        return "", ""
    return (step.level.value if step else Level.NOT_OBSERVED.value), attempt.help


def _part_words(part: Part, attempt: Attempt | None, scale: Scale) -> list[str]:
    step = tapped_step(attempt, scale) if attempt else None
    if attempt is None or (step is None and attempt.help == Help.NONE):
        return [] if part is Part.GO_AROUND else [f"{part.label.lower()} not graded"]
    said = [part.label.lower(), *([step.label] if step else [])]
    if attempt.help != Help.NONE:
        said.append("took control" if attempt.help == Help.TOOK_CONTROL else attempt.help)
    return [" ".join([*said, *(row.fault.name.lower() for row in attempt.preloaded_faults)])]
