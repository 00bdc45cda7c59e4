"""Draws one lesson with all that is seen in it, and writes it as lines that are copied later."""

import random
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from grading.evidence.lesson_payload import AttemptRow, CircuitRow, LessonContents
from grading.models import Attempt, CriterionSeen, FaultSeen, Measure, Tap
from grading.reading.grade_lines import GradingContext, target_in_wind
from grading.rules.counted_level import part_taken_over
from grading.rules.marking import (
    Deviation,
    MarkedAttempt,
    Target,
    ToleranceBand,
    deviation_from_target,
    propose_attempt,
)
from grading.simulation.demo.catalogue import Catalogue
from grading.simulation.demo.flying import ALWAYS_NOTED_GATES, EASE, NOTED_GATES, Pilot, SimulatedAttempt
from lessons.conditions import lesson_wind
from lessons.models import Circuit, Criterion, Enrolment, Fault, GateTarget, Lesson, Unit
from lessons.rules.scale import Ending, Help, Level, Part, Scale, UnitKind
from school.models import Aircraft, Runway
from tests.benchmarks.academy.bulk_copy import BulkTables, copy_text
from tests.benchmarks.academy.chain import seeded_uuid, seeded_uuid_int
from tests.benchmarks.academy.generated_people import SimulatedInstructor
from tests.benchmarks.academy.weather import WeatherDay

TAP_INTERVAL = timedelta(seconds=4)
FIRST_CIRCUITS_UNIT = 8
# Before solo the standard asks for numbers at the gates, and whoever seldom notes any begins to.
NUMBERS_WANTED_FROM_UNIT, DILIGENCE_BEFORE_SOLO = 13, 0.5
TOLD_BY_ENDING_SHARE = 0.5  # of the circuits in which control was taken end with it, and no part says so
# Of all attempts: what is seldom in a record, and what every rule has to bear.
NOT_OBSERVED_SHARE, PROMPTED_SHARE, CRITICAL_SHARE, CONTRADICTED_SHARE = 0.01, 0.01, 0.005, 0.04
NOTED_AFTER_TAKING_SHARE = 0.3
KEPT_SHARE, KEPT_REASON = 0.2, "Flown well by what I saw; the needle was late."
BY_CLOSING_SHARE = 0.05
TENTH = Decimal("0.1")  # as the column keeps a number, and so as the record says it
NEXT_TIME_REMARKS = (
    "Hold the speed from the turn to final.",
    "Round out later, then wait.",
    "Say the checks aloud.",
    "",
)


class SimulatedCircuit(NamedTuple):
    """`shown`: flown by the instructor to show it."""

    number: int
    ending: str
    shown: bool


class SimulatedTry(NamedTuple):
    """One attempt as it is tapped; `circuit` None: by itself. `kept`: why the level stands against a number."""

    circuit: int | None
    part: str
    code: str
    level: Level
    help: Help
    fault: Fault | None
    watched: tuple[Criterion, bool] | None
    noted: list["SimulatedMeasure"]
    kept: str
    by_closing: bool


class SimulatedMeasure(NamedTuple):
    """A number at a gate, with how far it lies from the target of the day."""

    target: GateTarget
    value: Decimal
    seen: Deviation


@dataclass
class SimulatedLesson:
    """A lesson with all that belongs to it.

    `tries` in the order of the record; `grading_context`: what it is held against.
    taps: field and value, in their order.
    """

    lesson: Lesson
    grading_context: GradingContext
    circuits: list[SimulatedCircuit] = field(default_factory=list)
    tries: list[SimulatedTry] = field(default_factory=list)
    taps: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True)
class LessonSlot:
    """When, with whom, in what and in which weather a lesson is given. `aircraft` None: on the ground."""

    begins: datetime
    teacher: SimulatedInstructor
    day: WeatherDay
    aircraft: Aircraft | None
    runway: Runway | None


class LessonGenerator:
    """Draws the lessons of one syllabus."""

    def __init__(self, catalogue: Catalogue, tables: BulkTables, targets: Iterable[GateTarget], scale: Scale) -> None:
        self.catalogue, self.tables, self.scale = catalogue, tables, scale
        self.today: dict[tuple[int, float], Target] = {}  # by gate and gusts
        self.targets: dict[tuple[int, str], list[GateTarget]] = defaultdict(list)
        for target in targets:
            for part, codes in NOTED_GATES.items():
                if target.gate.code in codes:
                    self.targets[target.gate.gate_set.aircraft_type_id, part].append(target)

    def lesson(
        self, pilot: Pilot, enrolment: Enrolment, unit: Unit, number: int, slot: LessonSlot, circuits: int | None = None
    ) -> SimulatedLesson:
        """One lesson as its instructor taps it, not signed."""
        draw = pilot.random
        lesson = Lesson(
            pk=self.tables.key(Lesson),
            uid=seeded_uuid(draw, slot.begins),
            enrolment=enrolment,
            number=number,
            unit=unit,
            on=slot.day.on,
            instructor=slot.teacher.person,
            begun_at=slot.begins,
            begun_by=slot.teacher.person,
        )
        if unit.kind == UnitKind.GROUND:
            lesson.ground_minutes = 60
        else:
            _fill_flight(lesson, slot, draw)
        flown = SimulatedLesson(
            lesson, GradingContext(wind=lesson_wind(lesson), scale=self.scale, later=self._not_counting_yet(unit))
        )
        if unit.flies_circuits:
            for place in range(1, (circuits or draw.randint(6, 10)) + 1):
                self._circuit(flown, pilot, slot.teacher, place)
        in_circuit = {part.value for part in Part} if unit.flies_circuits else set()
        for graded in self.catalogue.graded_manoeuvres[unit.pk]:
            code, for_type = graded.manoeuvre.code, not graded.manoeuvre.tailwheel_only or pilot.learner.tailwheel
            if code not in in_circuit and for_type:
                self._attempt(flown, pilot, code, pilot.alone(Level(graded.expected)))
        minutes = "lesson.ground_minutes" if unit.kind == UnitKind.GROUND else "lesson.dual_minutes"
        flown.taps.append((minutes, "1:00"))
        return flown

    def corrected(self, flown: SimulatedLesson, reason: str, at: datetime, draw: random.Random) -> SimulatedLesson:
        """A new version, begun as a copy of a signed lesson."""
        old = flown.lesson
        same = ("id", "uid", "version", "supersedes", "signed_at", "signed_by")
        names = [column.attname for column in Lesson._meta.concrete_fields if column.name not in same]
        lesson = Lesson(
            pk=self.tables.key(Lesson),
            uid=seeded_uuid(draw, at),
            version=old.version + 1,
            supersedes=old,
            **{name: getattr(old, name) for name in names},
        )
        for name in ("enrolment", "unit", "instructor", "aircraft", "runway"):
            setattr(lesson, name, getattr(old, name))
        lesson.correction_reason, lesson.begun_at = reason, at
        return SimulatedLesson(lesson, flown.grading_context, flown.circuits, flown.tries, [("lesson.remarks", "")])

    def marks(self, flown: SimulatedLesson) -> dict[str, list[MarkedAttempt]]:
        """What the marking reads of each manoeuvre flown, in the order flown: as grading.reading.grade_lines has it."""
        marks: dict[str, list[MarkedAttempt]] = defaultdict(list)
        shown = {row.number for row in flown.circuits if row.shown}
        for row, marked in zip(flown.tries, self._marked_tries(flown), strict=True):
            if row.circuit not in shown:
                marks[row.code].append(marked)
        return marks

    def _marked_tries(self, flown: SimulatedLesson) -> list[MarkedAttempt]:
        """What the marking reads of each try, in the order of the record."""
        taken = set()
        for circuit in flown.circuits:
            if circuit.ending == Ending.TOOK_CONTROL:
                helps = {Part(row.part): row.help for row in flown.tries if row.circuit == circuit.number}
                taken.add((circuit.number, part_taken_over(Ending.TOOK_CONTROL, helps)))
        return [self._marked(row, flown.grading_context, (row.circuit, row.part) in taken) for row in flown.tries]

    def _marked(self, row: SimulatedTry, grading_context: GradingContext, taken: bool) -> MarkedAttempt:
        manoeuvre = self.catalogue.manoeuvres[row.code].pk
        return MarkedAttempt(
            step=grading_context.scale.step(row.level),
            help=Help.TOOK_CONTROL if taken else row.help,
            critical_faults=(row.fault.name,) if row.fault and row.fault.critical else (),
            deviations=tuple(one.seen for one in row.noted if not grading_context.counts_from(manoeuvre, one.target)),
            not_done=(row.watched[0].text,) if row.watched and not row.watched[1] else (),
            kept=row.kept,
        )

    def write(self, flown: SimulatedLesson, draw: random.Random) -> LessonContents:
        """Everything in a lesson, as lines of its tables and as what its record says was seen."""
        seen, lesson, tables = LessonContents(), flown.lesson.pk, self.tables
        circuits: dict[int | None, int | None] = {None: None}
        for number, ending, shown in flown.circuits:
            circuits[number] = key = tables.key(Circuit)
            seen.circuits.append(CircuitRow(key, number, ending, "", shown))
            tables.lines(Circuit).append(f"{key}\t{lesson}\t{number}\t{ending}\tt\t\t{copy_text(shown)}")
        attempts, faults, criteria, measures = map(tables.lines, (Attempt, FaultSeen, CriterionSeen, Measure))
        for row, counted in zip(flown.tries, self._counted(flown), strict=True):
            key, circuit, manoeuvre = tables.key(Attempt), circuits[row.circuit], self.catalogue.manoeuvres[row.code].pk
            of = "\\N" if circuit is None else circuit
            attempts.append(
                f"{key}\t{lesson}\t{of}\t{row.part}\t{manoeuvre}\t1\t{row.level}\t\t{row.help}"
                f"\t{row.kept}\t{copy_text(row.by_closing)}\t{counted}"
            )
            seen.attempts[circuit].append(
                AttemptRow(
                    key, lesson, circuit, row.part, row.code, row.level, "", row.help, row.kept, row.by_closing, counted
                )
            )
            if row.fault:
                faults.append(f"{key}\t{row.fault.pk}")
                seen.faults[key].append(row.fault.code)
            if row.watched:
                criterion, done = row.watched
                criteria.append(f"{key}\t{criterion.pk}\t{copy_text(done)}")
                seen.criteria[key][criterion.code] = done
            for target, value, _ in row.noted:
                measures.append(f"{key}\t{target.pk}\t{value}\t{target.unit}")
                seen.measures[key].append(_measure_payload(target, value))
        self._write_taps(flown, draw)
        return seen

    def _counted(self, flown: SimulatedLesson) -> list[str]:
        """The level as which each try counts, as signing notes it; empty in a lesson that is not signed."""
        if flown.lesson.signed_at is None:
            return [""] * len(flown.tries)
        scale = flown.grading_context.scale
        return [propose_attempt(marked, scale).level.value for marked in self._marked_tries(flown)]

    def _write_taps(self, flown: SimulatedLesson, draw: random.Random) -> None:
        """Two rows of five are taps."""
        lesson, person, at = flown.lesson.pk, flown.lesson.instructor_id, flown.lesson.begun_at
        lines = self.tables.lines(Tap)
        for name, after in flown.taps:
            at += TAP_INTERVAL
            lines.append(f"{seeded_uuid_int(draw, at):032x}\t{lesson}\t{at}\t{person}\t{name}\t\t{after}")

    def _not_counting_yet(self, unit: Unit) -> dict[tuple[int, str, str], int]:
        return {
            (row.manoeuvre_id, row.gate, row.quantity): row.from_unit
            for row in self.catalogue.measured
            if row.from_unit and row.from_unit > unit.number
        }

    def _circuit(self, flown: SimulatedLesson, pilot: Pilot, teacher: SimulatedInstructor, number: int) -> None:
        unit = flown.lesson.unit
        ending = unit.ending if unit.kind != UnitKind.DUAL else pilot.ending(unit.ending)
        last = Part.GO_AROUND if ending == Ending.GO_AROUND else Part.LANDING
        diligence = (
            max(teacher.diligence, DILIGENCE_BEFORE_SOLO)
            if unit.number >= NUMBERS_WANTED_FROM_UNIT
            else teacher.diligence
        )
        with_numbers = last is Part.LANDING and pilot.random.random() < diligence
        for part in (Part.TAKEOFF, Part.DOWNWIND, Part.APPROACH, last):
            drawn = pilot.attempt(EASE[part] - teacher.severity)
            taken = drawn.help is Help.TOOK_CONTROL
            noted = with_numbers and (not taken or pilot.random.random() < NOTED_AFTER_TAKING_SHARE)
            targets = self._choose_targets(flown, part, pilot) if noted else []
            if taken and last is Part.LANDING and pilot.random.random() < TOLD_BY_ENDING_SHARE:
                ending, drawn = Ending.TOOK_CONTROL.value, replace(drawn, help=Help.NONE)
            self._attempt(flown, pilot, part.value, drawn, number, targets)
            if ending == Ending.TOOK_CONTROL:
                break
        # The first of the first lesson in the circuit is flown by the instructor.
        flown.circuits.append(SimulatedCircuit(number, ending, unit.number == FIRST_CIRCUITS_UNIT and number == 1))
        flown.taps.append((f"circuit.{number}.closed", "on"))

    def _choose_targets(self, flown: SimulatedLesson, part: Part, pilot: Pilot) -> list[GateTarget]:
        assert flown.lesson.aircraft is not None
        offered = self.targets[flown.lesson.aircraft.type_id, part]
        return [row for row in offered if row.gate.code in ALWAYS_NOTED_GATES or pilot.random.random() > 0.7]

    def _number(
        self, row: GateTarget, grading_context: GradingContext, pilot: Pilot, level: Level, outside: bool
    ) -> SimulatedMeasure:
        gust = grading_context.wind.gust_allowance_kt if grading_context.wind else 0.0
        target = self.today.get((row.pk, gust))
        if target is None:
            target = self.today[row.pk, gust] = target_in_wind(row, grading_context)
        value = (target.value + 2 * target.over if outside else pilot.noted(target, level)).quantize(TENTH)
        return SimulatedMeasure(row, value, deviation_from_target(target, value))

    def _attempt(
        self,
        flown: SimulatedLesson,
        pilot: Pilot,
        code: str,
        drawn: SimulatedAttempt,
        circuit: int | None = None,
        targets: Iterable[GateTarget] = (),
    ) -> None:
        kind, unit = flown.lesson.enrolment.aircraft_type, flown.lesson.unit.number
        drawn, odds = _as_tapped_now_and_then(drawn, pilot.random), pilot.random.random()
        contradicted = odds < CONTRADICTED_SHARE
        fault = pilot.fault(drawn, self.catalogue.faults_on(code, kind))
        watched = pilot.watched(drawn.level, self.catalogue.criteria_counting_in(code, unit, kind))
        if watched and contradicted:
            watched = watched[0], False
        noted = [self._number(row, flown.grading_context, pilot, drawn.level, contradicted) for row in targets]
        kept = KEPT_REASON if _contradicts(watched, noted) and pilot.random.random() < KEPT_SHARE else ""
        part = "" if circuit is None else code
        by_closing = bool(part) and drawn.level is Level.PERFORM and pilot.random.random() < BY_CLOSING_SHARE
        row = SimulatedTry(circuit, part, code, drawn.level, drawn.help, fault, watched, noted, kept, by_closing)
        flown.tries.append(row)
        flown.taps.extend(_taps(row))


def _contradicts(watched: tuple[Criterion, bool] | None, noted: list[SimulatedMeasure]) -> bool:
    """Whether a criterion that was not done, or a number outside, speaks against the level."""
    not_done = watched is not None and not watched[1]
    return not_done or any(row.seen.place is not ToleranceBand.INSIDE for row in noted)


def _as_tapped_now_and_then(drawn: SimulatedAttempt, draw: random.Random) -> SimulatedAttempt:
    """What a pilot never draws and a record holds: not looked at; to standard with a prompt, or with a severe fault."""
    odds = draw.random()
    if odds < NOT_OBSERVED_SHARE:
        return SimulatedAttempt(Level.NOT_OBSERVED, Help.NONE, None, False)
    if drawn.level is not Level.PERFORM:
        return drawn
    if odds < NOT_OBSERVED_SHARE + PROMPTED_SHARE:
        return replace(drawn, help=Help.PROMPTED)
    if odds < NOT_OBSERVED_SHARE + PROMPTED_SHARE + CRITICAL_SHARE:
        return replace(drawn, fault=draw.random(), severe=True)
    return drawn


def _taps(row: SimulatedTry) -> Iterator[tuple[str, str]]:
    """Field and value of each entry; what the closing key gave has none of its own."""
    prefix = f"manoeuvre.{row.code}" if row.circuit is None else f"circuit.{row.circuit}.{row.code}"
    if not row.by_closing:
        yield f"{prefix}.level", row.level.value
    if row.help is not Help.NONE:
        yield f"{prefix}.help", row.help.value
    if row.fault:
        yield f"{prefix}.fault.{row.fault.code}", "on"
    for target, value, _ in row.noted:
        yield f"{prefix}.measure.{target.gate.code}.{target.quantity}", f"{value.normalize():f} {target.unit}"
    if row.kept:
        yield f"{prefix}.kept", row.kept


def _fill_flight(lesson: Lesson, slot: LessonSlot, draw: random.Random) -> None:
    """Aircraft, times and wind: entered by hand, or from a report that is pasted in."""
    minutes = draw.randint(48, 70)
    lesson.aircraft, lesson.runway = slot.aircraft, slot.runway
    lesson.off_blocks = slot.begins + timedelta(minutes=20)
    lesson.on_blocks = lesson.off_blocks + timedelta(minutes=minutes)
    if lesson.unit.kind == UnitKind.SOLO:
        lesson.solo_minutes = minutes
    else:
        lesson.dual_minutes = minutes
    lesson.next_time = draw.choice(NEXT_TIME_REMARKS)
    if draw.random() < 0.4:
        lesson.weather_report = slot.day.report(slot.begins.hour)
    else:
        lesson.wind_direction, lesson.wind_speed_kt = slot.day.direction, slot.day.speed_kt
        lesson.wind_gust_kt = slot.day.gust_kt


def _measure_payload(target: GateTarget, value: Decimal) -> dict[str, str]:
    return {
        "gate": target.gate.code,
        "quantity": target.quantity,
        "value": str(value),
        "unit": target.unit,
        "target": str(target.value),
        "target_unit": target.unit,
        "over": str(target.over),
        "under": str(target.under),
    }
