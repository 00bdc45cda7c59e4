"""Draws one lesson with all that is seen in it, as rows in memory that are written later."""

import random
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from grading import records
from grading.academy.chain import drawn_uid
from grading.academy.people import Teacher
from grading.academy.tables import Tables, referring
from grading.academy.weather import Day
from grading.demo.catalogue import Catalogue
from grading.demo.flying import ALWAYS_NOTED, EASE, NOTED, Pilot, Seen
from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure
from grading.proposals import Ruler, target_today
from lessons.conditions import wind_of
from lessons.models import Circuit, Enrolment, GateTarget, Lesson, Unit
from lessons.scale import Ending, Help, Level, Part, Scale, UnitKind
from school.models import Aircraft, Runway

SECONDS_A_TAP = 4
TENTH = Decimal("0.1")  # as the column keeps a number, and so as the record says it
ASKED = ("Hold the speed from the turn to the line.", "Round out later, then wait.", "Say the checks aloud.", "")


@dataclass
class Flown:
    """A lesson with all that belongs to it. `attempts` in the order of the record; `ruler`: what it is held against."""

    lesson: Lesson
    ruler: Ruler
    circuits: list[Circuit] = field(default_factory=list)
    attempts: list[Attempt] = field(default_factory=list)
    taps: list[tuple[Any, ...]] = field(default_factory=list)

    def seen(self, grades: list[Grade]) -> records.Seen:
        """What records.seen_in would have read of it."""
        seen = records.Seen([(row.pk, row.number, row.ending) for row in self.circuits], grades=grades)
        for row in self.attempts:
            tried = records.Tried(
                row.pk, row.lesson_id, row.circuit_id, row.part, row.manoeuvre.code, row.level, row.step, row.help
            )
            seen.attempts[row.circuit_id].append(tried)
            seen.faults[row.pk] = [fault.fault.code for fault in row.faults_seen.all()]
            seen.criteria[row.pk] = {found.criterion.code: found.done for found in row.criteria_seen.all()}
            seen.measures[row.pk] = [_measured(measure) for measure in row.measures.all()]
        return seen


@dataclass(frozen=True)
class Slot:
    """When, with whom, in what and in which weather a lesson is given. `aircraft` None: on the ground."""

    begins: datetime
    teacher: Teacher
    day: Day
    aircraft: Aircraft | None
    runway: Runway | None


class Drawer:
    """Draws the lessons of one syllabus. Attempts carry what prefetching would have read."""

    def __init__(self, catalogue: Catalogue, tables: Tables, targets: Iterable[GateTarget], scale: Scale) -> None:
        self.catalogue, self.tables, self.scale = catalogue, tables, scale
        self.targets: dict[tuple[int, str], list[GateTarget]] = defaultdict(list)
        for target in targets:
            for part, codes in NOTED.items():
                if target.gate.code in codes:
                    self.targets[target.gate.gate_set.aircraft_type_id, part].append(target)

    def lesson(
        self, pilot: Pilot, enrolment: Enrolment, unit: Unit, number: int, slot: Slot, circuits: int | None = None
    ) -> Flown:
        """One lesson as its instructor taps it, not signed."""
        draw = pilot.random
        lesson = Lesson(
            pk=self.tables.key(Lesson),
            uid=drawn_uid(draw),
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
        flown = Flown(lesson, Ruler(wind=wind_of(lesson), scale=self.scale, later=self._later(unit)))
        if unit.flies_circuits:
            for place in range(1, (circuits or draw.randint(6, 10)) + 1):
                self._circuit(flown, pilot, slot.teacher, place)
        in_circuit = {part.value for part in Part} if unit.flies_circuits else set()
        for graded in self.catalogue.asked[unit.pk]:
            code, for_type = graded.manoeuvre.code, not graded.manoeuvre.tailwheel_only or pilot.learner.tailwheel
            if code not in in_circuit and for_type:
                self._attempt(flown, pilot, code, pilot.alone(Level(graded.expected)))
        self._tap(
            flown, draw, "lesson.ground_minutes" if unit.kind == UnitKind.GROUND else "lesson.dual_minutes", "1:00"
        )
        return flown

    def corrected(self, flown: Flown, reason: str, at: datetime, draw: random.Random) -> Flown:
        """A new version, begun as a copy of a signed lesson."""
        old = flown.lesson
        names = [
            f.attname for f in Lesson._meta.concrete_fields if f.name not in ("id", "uid", "version", "supersedes")
        ]
        lesson = Lesson(
            pk=self.tables.key(Lesson), uid=drawn_uid(draw), version=old.version + 1, supersedes=old,
            **{name: getattr(old, name) for name in names},
        )  # fmt: skip
        for name in ("enrolment", "unit", "instructor", "aircraft", "runway"):
            setattr(lesson, name, getattr(old, name))
        lesson.correction_reason, lesson.begun_at = reason, at
        made = Flown(lesson, flown.ruler)
        circuits = {row.pk: self._new_circuit(made, row.number, row.ending) for row in flown.circuits}
        for row in flown.attempts:
            copy = self._new_attempt(
                made, row.manoeuvre.code, circuits.get(row.circuit_id or 0), row.part, row.level, row.help
            )
            _hang(
                copy,
                [seen.fault for seen in row.faults_seen.all()],
                [(seen.criterion, seen.done) for seen in row.criteria_seen.all()],
                [(measure.target, measure.value) for measure in row.measures.all()],
            )
        self._tap(made, draw, "lesson.remarks", "")
        return made

    def _later(self, unit: Unit) -> dict[tuple[int, str, str], int]:
        return {
            (row.manoeuvre_id, row.gate, row.quantity): row.from_unit
            for row in self.catalogue.measured
            if row.from_unit and row.from_unit > unit.number
        }

    def _circuit(self, flown: Flown, pilot: Pilot, teacher: Teacher, number: int) -> None:
        unit = flown.lesson.unit
        ending = unit.ending if unit.kind != UnitKind.DUAL else pilot.ending(unit.ending)
        circuit = self._new_circuit(flown, number, ending)
        last = Part.GO_AROUND if ending == Ending.GO_AROUND else Part.LANDING
        with_numbers = last is Part.LANDING and pilot.random.random() < teacher.diligence
        for part in (Part.TAKEOFF, Part.APPROACH, last):
            seen = pilot.attempt(EASE[part] - teacher.severity)
            targets = self._noted(flown, part, pilot) if with_numbers and seen.help is not Help.TOOK_CONTROL else []
            self._attempt(flown, pilot, part.value, seen, circuit, part.value, targets)
        self._tap(flown, pilot.random, f"circuit.{number}.closed", "on")

    def _noted(self, flown: Flown, part: Part, pilot: Pilot) -> list[GateTarget]:
        assert flown.lesson.aircraft is not None
        offered = self.targets[flown.lesson.aircraft.type_id, part]
        return [row for row in offered if row.gate.code in ALWAYS_NOTED or pilot.random.random() > 0.7]

    def _attempt(
        self,
        flown: Flown,
        pilot: Pilot,
        code: str,
        seen: Seen,
        circuit: Circuit | None = None,
        part: str = "",
        targets: Iterable[GateTarget] = (),
    ) -> None:
        attempt = self._new_attempt(flown, code, circuit, part, seen.level.value, seen.help.value)
        fault = pilot.fault(seen, self.catalogue.faults[code])
        watched = pilot.watched(seen.level, self.catalogue.counting(code, flown.lesson.unit.number))
        noted = [(row, pilot.noted(target_today(row, flown.ruler), seen.level)) for row in targets]
        _hang(attempt, [fault] if fault else [], [watched] if watched else [], noted)
        prefix = f"circuit.{circuit.number}.{part}" if circuit else f"manoeuvre.{code}"
        self._tap(flown, pilot.random, f"{prefix}.level", seen.level.value)
        if seen.help is not Help.NONE:
            self._tap(flown, pilot.random, f"{prefix}.help", seen.help.value)
        if fault:
            self._tap(flown, pilot.random, f"{prefix}.fault.{fault.code}", "on")
        for target, value in noted:
            field = f"{prefix}.measure.{target.gate.code}.{target.quantity}"
            self._tap(flown, pilot.random, field, f"{value.normalize():f} {target.unit}")

    def _new_circuit(self, flown: Flown, number: int, ending: str) -> Circuit:
        circuit = referring(Circuit, (self.tables.key(Circuit), flown.lesson.pk, number, ending, True))
        flown.circuits.append(circuit)
        return circuit

    def _new_attempt(
        self, flown: Flown, code: str, circuit: Circuit | None, part: str, level: str | None, help_: str
    ) -> Attempt:
        manoeuvre, of = self.catalogue.manoeuvres[code], circuit.pk if circuit else None
        columns = (self.tables.key(Attempt), flown.lesson.pk, of, part, manoeuvre.pk, 1, level, "", help_)
        attempt = referring(Attempt, columns, circuit=circuit, manoeuvre=manoeuvre)
        flown.attempts.append(attempt)
        return attempt

    def _tap(self, flown: Flown, draw: random.Random, name: str, after: str) -> None:
        at = flown.lesson.begun_at + timedelta(seconds=SECONDS_A_TAP * (len(flown.taps) + 1))
        lesson = flown.lesson
        flown.taps.append((drawn_uid(draw), lesson.pk, at, lesson.instructor_id, name, "", after, None))


def _measured(measure: Measure) -> dict[str, str]:
    target = measure.target
    return {
        "gate": target.gate.code,
        "quantity": target.quantity,
        "value": str(measure.value),
        "unit": measure.unit,
        "target": str(target.value),
        "target_unit": target.unit,
        "over": str(target.over),
        "under": str(target.under),
    }


def _fill_flight(lesson: Lesson, slot: Slot, draw: random.Random) -> None:
    """Aircraft, times and wind: entered by hand, or from a report that is pasted in."""
    minutes = draw.randint(48, 70)
    lesson.aircraft, lesson.runway = slot.aircraft, slot.runway
    lesson.off_blocks = slot.begins + timedelta(minutes=20)
    lesson.on_blocks = lesson.off_blocks + timedelta(minutes=minutes)
    if lesson.unit.kind == UnitKind.SOLO:
        lesson.solo_minutes = minutes
    else:
        lesson.dual_minutes = minutes
    lesson.next_time = draw.choice(ASKED)
    if draw.random() < 0.4:
        lesson.weather_report = slot.day.report(slot.begins.hour)
    else:
        lesson.wind_direction, lesson.wind_speed_kt = slot.day.direction, slot.day.speed_kt
        lesson.wind_gust_kt = slot.day.gust_kt


def _hang(attempt: Attempt, faults: list[Any], criteria: list[Any], measures: list[Any]) -> None:
    """Faults, criteria and numbers of an attempt, where prefetch_related would have put them."""
    attempt._prefetched_objects_cache = {  # type: ignore[attr-defined]
        "faults_seen": [referring(FaultSeen, (None, attempt.pk, row.pk), fault=row) for row in faults],
        "criteria_seen": [
            referring(CriterionSeen, (None, attempt.pk, row.pk, done), criterion=row) for row, done in criteria
        ],
        "measures": [
            referring(Measure, (None, attempt.pk, row.pk, value.quantize(TENTH), row.unit), target=row)
            for row, value in measures
        ],
    }
