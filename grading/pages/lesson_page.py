"""What the lesson page shows, gathered once: the brief, the circuits, the pad, the grades, what is missing."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from grading import proposals
from grading.actions import details
from grading.actions.recording import last_tap
from grading.actions.signing import counted, missing_before_signing
from grading.marking import Deviation
from grading.models import Attempt, Tap
from grading.proposals import GradeLine, attempts_of, deviation_of, target_today, wind_of
from grading.queries import facts_for, standard_in_force
from grading.readiness import State, Verdict, assess
from grading.readiness.checks.rows import current_row
from grading.readiness.history import History
from lessons.models import Circuit, Fault, GateSet, GateTarget, Lesson
from lessons.queries import Course, courses
from lessons.scale import Ending, Help, Level, Part
from lessons.wind import Components, Wind, components
from school.marks import deviation as draw_deviation
from school.marks import wind as draw_wind
from school.models import School

HELP_WORDS = {
    Help.NONE: "none",
    Help.PROMPTED: "prompted",
    Help.ASSISTED: "assisted",
    Help.TOOK_CONTROL: "took control",
}
CODES_OF_CIRCUIT = {part.value for part in Part}
# Which part of a circuit the numbers of a gate are noted under.
PART_OF_GATE = {"takeoff": Part.TAKEOFF, "circuit": Part.APPROACH, "approach": Part.APPROACH, "landing": Part.LANDING}


@dataclass(frozen=True)
class Key:
    """One key of the pad: an input by name and value."""

    value: str
    label: str
    chosen: bool


@dataclass(frozen=True)
class MeasureEntry:
    field: str
    label: str
    target: str
    start: Decimal
    step: str
    value: str
    deviation: Deviation | None

    @property
    def drawing(self) -> str:
        if self.deviation is None:
            return ""
        target = self.deviation.target
        return draw_deviation(
            float(self.deviation.amount), float(target.over), float(target.under), self.deviation.words
        )


@dataclass(frozen=True)
class Pad:
    """The keys for one attempt: a part of a circuit, or a manoeuvre by itself."""

    prefix: str
    title: str
    levels: list[Key]
    helps: list[Key]
    faults: list[tuple[str, Fault, bool]]
    measures: list[MeasureEntry]

    @property
    def faults_seen(self) -> list[Fault]:
        return [fault for _, fault, seen in self.faults if seen]

    @property
    def noted(self) -> list[MeasureEntry]:
        return [entry for entry in self.measures if entry.deviation]

    @property
    def id(self) -> str:
        return self.prefix.replace(".", "-")


@dataclass(frozen=True)
class CircuitLine:
    circuit: Circuit
    parts: list[tuple[Part, Attempt | None]]
    said: str


@dataclass(frozen=True)
class CircuitPad:
    number: int
    ending: str
    endings: list[Key]
    parts: list[Pad]


def wind_and_runway(lesson: Lesson) -> dict[str, Any]:
    """Components on the runway in use and their drawing; the crosswind of the gusts against the type's limit."""
    wind = wind_of(lesson)
    if wind is None or lesson.runway is None or wind.direction is None:
        return {"wind": wind, "components": None, "wind_drawing": ""}
    parts: Components = components(wind, lesson.runway.heading_magnetic)
    label = f"Wind {wind.direction:03d} at {wind.speed_kt} kt on runway {lesson.runway.designator}: {parts.words}"
    drawing = draw_wind(lesson.runway.designator, lesson.runway.heading_magnetic, wind.direction, wind.speed_kt, label)
    limit = lesson.aircraft.type.demonstrated_crosswind_kt if lesson.aircraft else None
    in_gust = abs(components(wind, lesson.runway.heading_magnetic, in_gust=True).crosswind_kt)
    too_much = limit is not None and in_gust > limit
    return {"wind": wind, "components": parts, "wind_drawing": drawing, "crosswind_over": limit if too_much else None}


class LessonPage:
    """Context of the page and of its fragments; each part is gathered when first asked for."""

    def __init__(self, lesson: Lesson, number: int | None = None) -> None:
        self.lesson = lesson
        self.attempts = attempts_of(lesson)
        self.circuits = list(lesson.circuits.order_by("number"))
        self.wind: Wind | None = wind_of(lesson)
        self.targets = _targets(lesson)
        self.pad_number = self._pad_number(number)
        self._faults = _faults(lesson)

    def context(self) -> dict[str, Any]:
        lesson = self.lesson
        return {
            **self.after_tap(),
            "course": self.course,
            "closed": self.closed,
            "details": {name: details.as_typed(lesson, name) for name in details.READERS},
            **self.brief,
        }

    def after_tap(self) -> dict[str, Any]:
        """What one tap can change: gathered without the brief, so that a tap is answered quickly."""
        graded = proposals.for_lesson(self.lesson, self.attempts)
        return {
            "lesson": self.lesson,
            "pad": self.pad,
            "lines": self.lines(graded),
            "missing": missing_before_signing(self.lesson, graded),
            "undo": self.undo,
            "counted": counted(self.lesson),
        }

    @property
    def course(self) -> Course:
        return courses([self.lesson.enrolment], self.lesson.on)[self.lesson.enrolment_id]

    @property
    def undo(self) -> Tap | None:
        return last_tap(self.lesson)

    def _pad_number(self, number: int | None) -> int:
        """The circuit the pad is for: the one asked for, else the open one, else the next."""
        numbers = {circuit.number for circuit in self.circuits}
        if number in numbers:
            return number
        open_ones = [circuit.number for circuit in self.circuits if not circuit.closed]
        return open_ones[0] if open_ones else len(self.circuits) + 1

    @property
    def pad(self) -> CircuitPad | None:
        if not self.lesson.unit.flies_circuits:
            return None
        circuit = next((row for row in self.circuits if row.number == self.pad_number), None)
        ending = circuit.ending if circuit else self.lesson.unit.ending
        last = Part.GO_AROUND if ending == Ending.GO_AROUND else Part.LANDING
        return CircuitPad(
            number=self.pad_number,
            ending=ending,
            endings=[Key(word.value, word.label.capitalize(), word.value == ending) for word in Ending],
            parts=[self.part_pad(part, circuit) for part in (Part.TAKEOFF, Part.APPROACH, last)],
        )

    def part_pad(self, part: Part, circuit: Circuit | None) -> Pad:
        attempt = next(
            (row for row in self.attempts if circuit and row.circuit_id == circuit.pk and row.part == part), None
        )
        measured = [row for row in self.targets if PART_OF_GATE[row.gate.phase] is part]
        return self.make_pad(f"circuit.{self.pad_number}.{part.value}", part.label, part.value, attempt, measured)

    def make_pad(self, prefix: str, title: str, code: str, attempt: Attempt | None, targets: list[GateTarget]) -> Pad:
        level = attempt.level if attempt else None
        help_ = attempt.help if attempt else Help.NONE
        seen = {row.fault_id for row in attempt.faults_seen.all()} if attempt else set()
        return Pad(
            prefix=prefix,
            title=title,
            levels=[Key(word.value, word.label, word.value == level) for word in _levels()],
            helps=[Key(word.value, HELP_WORDS[word], word == help_) for word in Help],
            faults=[(f"{prefix}.fault.{row.code}", row, row.pk in seen) for row in self._faults.get(code, [])],
            measures=[self._measure(prefix, row, attempt) for row in targets],
        )

    def _measure(self, prefix: str, row: GateTarget, attempt: Attempt | None) -> MeasureEntry:
        noted = next((m for m in attempt.measures.all() if m.target_id == row.pk), None) if attempt else None
        today = target_today(row, self.wind)
        plus = f"+{today.over.normalize():f}" if today.over else "+0"
        minus = f"\u2212{today.under.normalize():f}" if today.under else "\u22120"
        return MeasureEntry(
            field=f"{prefix}.measure.{row.gate.code}.{row.quantity}",
            label=f"{row.gate.name}: {row.quantity}",
            target=f"{today.value.normalize():f} {row.unit}, {plus} {minus}",
            start=today.value.quantize(Decimal(1)),
            step="10" if row.unit == "ft" else "1",
            value=f"{noted.value.normalize():f}" if noted else "",
            deviation=deviation_of(noted, self.wind) if noted else None,
        )

    @property
    def closed(self) -> list[CircuitLine]:
        lines = []
        for circuit in self.circuits:
            if circuit.number == self.pad_number:
                continue
            lines.append(self.circuit_line(circuit))
        return lines

    def circuit_line(self, circuit: Circuit) -> CircuitLine:
        flown = {row.part: row for row in self.attempts if row.circuit_id == circuit.pk}
        last = Part.GO_AROUND if circuit.ending == Ending.GO_AROUND else Part.LANDING
        parts = [(part, flown.get(part)) for part in (Part.TAKEOFF, Part.APPROACH, last)]
        said = []
        for row in flown.values():
            said += [seen.fault.name for seen in row.faults_seen.all()]
            said += [deviation_of(measure, self.wind).words for measure in row.measures.all()]
        sentence = ". ".join(word[0].upper() + word[1:] for word in [*said, Ending(circuit.ending).label])
        return CircuitLine(circuit, parts, sentence + ".")

    def lines(self, graded: list[GradeLine]) -> list[dict[str, Any]]:
        """Grade lines with the keys to tap a manoeuvre flown by itself, or to change a proposal."""
        shown = []
        for line in graded:
            code = line.manoeuvre.code
            alone = None
            if code not in CODES_OF_CIRCUIT or not self.lesson.unit.flies_circuits:
                alone = self.make_pad(f"manoeuvre.{code}", line.manoeuvre.title, code, line.own_attempt, [])
            override = [Key(word.value, word.label, word == line.override) for word in _levels()]
            shown.append({"line": line, "pad": alone, "override": override, "field": f"grade.{code}"})
        return shown

    @property
    def brief(self) -> dict[str, Any]:
        verdict, rows = self.standing
        flown = [outcome for outcome in verdict.requirements if outcome.group == "standard"]
        return {
            "verdict": verdict,
            "rows": rows,
            "brief_open": [row for row in flown if row.state is not State.MET][:4],
            "open_faults": self.open_faults,
            "asked": self.previous.next_time if self.previous else "",
            "targets": [(row, self._measure("", row, None)) for row in self.targets],
            **wind_and_runway(self.lesson),
        }

    @property
    def standing(self) -> tuple[Verdict, dict[str, int]]:
        """The verdict before this lesson and the rows under way, this lesson's circuits not counted yet."""
        standard = standard_in_force(School.objects.get(), self.lesson.on)
        facts = facts_for(self.lesson.enrolment, self.lesson.on)
        history = History.of(facts, standard, self.lesson.on)
        rows = {part: len(current_row(history, part)) for part in ("takeoff", "approach", "landing")}
        return assess(facts, standard, self.lesson.on), rows

    @property
    def previous(self) -> Lesson | None:
        earlier = Lesson.objects.filter(enrolment=self.lesson.enrolment_id, number__lt=self.lesson.number)
        return earlier.signed().newest_first().first()

    @property
    def open_faults(self) -> list[Fault]:
        """Faults seen in the last signed lesson: what to watch today, each with its cure."""
        if self.previous is None:
            return []
        seen = Attempt.objects.filter(lesson=self.previous).values("faults_seen__fault")
        return list(Fault.objects.filter(pk__in=seen).order_by("-critical", "order")[:4])


def _levels() -> list[Level]:
    """As they stand on the keys: from the lowest to the highest, not observed last."""
    return [level for level in Level if level.observed] + [Level.NOT_OBSERVED]


def _targets(lesson: Lesson) -> list[GateTarget]:
    if lesson.aircraft is None:
        return []
    in_force = GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type_id).first()
    return list(GateTarget.objects.filter(gate__gate_set=in_force).select_related("gate").order_by("gate__order", "pk"))


def _faults(lesson: Lesson) -> dict[str, list[Fault]]:
    grouped: dict[str, list[Fault]] = {}
    rows = Fault.objects.filter(syllabus=lesson.unit.stage.syllabus_id).order_by("order")
    for fault in rows.prefetch_related("manoeuvres"):
        for manoeuvre in fault.manoeuvres.all():
            grouped.setdefault(manoeuvre.code, []).append(fault)
    return grouped
