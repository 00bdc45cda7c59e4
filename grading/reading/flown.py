"""This module reads the circuits of a lesson, and those before it, as they were flown: the numbers at the gates."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from django.db.models import Exists, OuterRef, Q, QuerySet

from grading.models import Attempt, Measure
from grading.reading.grade_lines import (
    GradingContext,
    load_attempts,
    load_grading_context,
    measured_deviation,
    target_in_wind,
)
from grading.rules.flown import FlownCircuit, GatePlace, NumberTarget, Pattern
from grading.rules.gate_words import gate_phrase
from grading.rules.marking import Deviation, ToleranceBand
from lessons.conditions import lesson_gusts
from lessons.models import Circuit, GateSet, Lesson
from lessons.models.published_values import PublishedTarget
from lessons.published_content import gate_targets, gates_in_order
from lessons.rules.units import DisplayUnits, convert_for_display

EARLIER_CIRCUITS = 5


class FlownLesson:
    """The circuits of one lesson with the gates they were flown by. Seven queries.

    pattern: gates and targets in the wind of the day and the school's units; empty where the aircraft has no gates.
    """

    def __init__(self, lesson: Lesson) -> None:
        self.lesson = lesson
        self.grading_context = load_grading_context(lesson)
        self.attempts = attempts = load_attempts(lesson)
        self.gate_set_id = _gate_set_of(lesson, attempts)
        self.pattern = pattern_in_wind(self.gate_set_id, self.grading_context) if self.gate_set_id else Pattern((), ())
        by_circuit: dict[int, list[tuple[Measure, Deviation]]] = defaultdict(list)
        for attempt in attempts:
            if attempt.circuit_id is not None:
                by_circuit[attempt.circuit_id] += [
                    (measure, measured_deviation(measure, self.grading_context))
                    for measure in attempt.preloaded_measures
                    if measure.target.gate.gate_set_id == self.gate_set_id
                ]
        self.circuits = [
            _flown(row, lesson.number, by_circuit[row.pk], self.grading_context.units)
            for row in lesson.circuits.order_by("number")
        ]

    def circuit(self, number: int) -> FlownCircuit | None:
        return next((row for row in self.circuits if row.circuit == number), None)

    def counts_from(self, number: int) -> dict[str, int]:
        """Return the numbers of a circuit that do not count yet, by their key, with the unit from which they will."""
        flown = {row.manoeuvre_id for row in self.attempts if row.circuit is not None and row.circuit.number == number}
        return {
            f"{gate}.{quantity}": unit
            for (manoeuvre, gate, quantity), unit in self.grading_context.later.items()
            if manoeuvre in flown
        }

    def earlier(self, number: int, most: int = EARLIER_CIRCUITS) -> list[FlownCircuit]:
        """Return the last circuits before one of this lesson in which a number was noted, the oldest first."""
        own = [row for row in self.circuits if row.circuit < number and row.values and not row.shown][-most:]
        if len(own) == most or not self.gate_set_id:
            return own
        before = _earlier_lessons(self.lesson)
        return [*flown_before(before, self.gate_set_id, self.grading_context.units, most - len(own)), *own]


def pattern_in_wind(gate_set_id: int, grading_context: GradingContext) -> Pattern:
    """Return the gates of an issue and their targets as they are read in a wind."""
    _, rows = gates_in_order(gate_set_id)
    gates = [
        GatePlace(number, row.code, row.name, gate_phrase(row.name, row.leg), row.leg, row.along_ft)
        for number, row in enumerate(rows, start=1)
    ]
    return Pattern(tuple(gates), tuple(_number_target(row, grading_context) for row in gate_targets(gate_set_id)))


def _number_target(row: PublishedTarget, grading_context: GradingContext) -> NumberTarget:
    today, units = target_in_wind(row, grading_context), grading_context.units
    value, over, under = (
        float(convert_for_display(number, row.unit, units)) for number in (today.value, row.over, row.under)
    )
    return NumberTarget(row.gate.code, row.quantity, units.unit_for(row.unit), value, over, under)


def flown_before(
    lessons: QuerySet[Lesson], gate_set_id: int, units: DisplayUnits, most: int = EARLIER_CIRCUITS
) -> list[FlownCircuit]:
    """Return the last circuits of some lessons with a number at these gates, the oldest first. Two queries."""
    measured = Measure.objects.filter(attempt__circuit=OuterRef("pk"), target__gate__gate_set=gate_set_id)
    rows = (
        Circuit.objects.filter(Exists(measured), lesson__in=lessons, shown=False)
        .select_related("lesson")
        .order_by("-lesson__on", "-lesson__number", "-number")[:most]
    )
    circuits = list(rows)[::-1]
    return _with_measures(circuits, gate_set_id, units)


def last_flown(lessons: Sequence[Lesson], units: DisplayUnits, most: int) -> tuple[Pattern, list[FlownCircuit]]:
    """Return the last circuits of some lessons, by the gates of the newest of them; three queries.

    The targets are those of the newest circuit, with its gusts. Nothing where no number was noted in a circuit.
    """
    rows = Measure.objects.filter(attempt__lesson__in=lessons, attempt__circuit__isnull=False)
    newest = rows.order_by("-attempt__lesson__on", "-attempt__lesson__number", "-attempt__circuit__number", "-pk")
    found = newest.values_list("target__gate__gate_set", "attempt__lesson").first()
    if found is None:
        return Pattern((), ()), []
    gate_set_id, lesson_id = found
    lesson = next(row for row in lessons if row.pk == lesson_id)
    grading_context = GradingContext(wind=lesson_gusts(lesson), units=units)
    circuits = flown_before(Lesson.objects.filter(pk__in=[row.pk for row in lessons]), gate_set_id, units, most)
    return pattern_in_wind(gate_set_id, grading_context), circuits


def _with_measures(circuits: Sequence[Circuit], gate_set_id: int, units: DisplayUnits) -> list[FlownCircuit]:
    noted: dict[int, list[Measure]] = defaultdict(list)
    rows = Measure.objects.filter(attempt__circuit__in=circuits, target__gate__gate_set=gate_set_id)
    for measure in rows.select_related("target__gate", "attempt").order_by("target__gate__order", "pk"):
        assert measure.attempt.circuit_id is not None
        noted[measure.attempt.circuit_id].append(measure)
    flown = []
    for row in circuits:
        # The speeds alone: targets need no direction, and a full wind would cost queries for each lesson.
        grading_context = GradingContext(wind=lesson_gusts(row.lesson), units=units)
        pairs = [(measure, measured_deviation(measure, grading_context)) for measure in noted[row.pk]]
        flown.append(_flown(row, row.lesson.number, pairs, units))
    return flown


def _flown(
    circuit: Circuit, lesson: int, measures: Iterable[tuple[Measure, Deviation]], units: DisplayUnits
) -> FlownCircuit:
    values, amounts, outside = dict[str, float](), dict[str, float](), set[str]()
    tracked = dict[str, float]()
    for measure, deviation in measures:
        key = f"{measure.target.gate.code}.{measure.target.quantity}"
        values[key] = float(convert_for_display(measure.value, measure.effective_unit, units))
        amounts[key] = float(_rounded_outwards(deviation.said(deviation.amount)))
        if deviation.place is not ToleranceBand.INSIDE:
            outside.add(key)
        if measure.uncertainty is not None:
            tracked[key] = float(convert_for_display(measure.uncertainty, measure.effective_unit, units))
    return FlownCircuit(
        lesson, circuit.number, circuit.ending, values, amounts, frozenset(outside), circuit.shown, tracked
    )


def _rounded_outwards(amount: Fraction) -> Decimal:
    """Round away from the target to a tenth, so that the number never contradicts its place (see Deviation.words)."""
    tenths = -(-abs(amount) * 10 // 1)
    return Decimal(int(tenths) if amount >= 0 else -int(tenths)) / 10


def _gate_set_of(lesson: Lesson, attempts: Iterable[Attempt]) -> int | None:
    """Return the gates by which numbers were noted, and without one those in force on the day."""
    # Noted first: the aircraft may have been changed after a number was read.
    for attempt in attempts:
        for measure in attempt.preloaded_measures:
            return measure.target.gate.gate_set_id
    if lesson.aircraft is None:
        return None
    in_force = GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type_id).first()
    return in_force.pk if in_force else None


def _earlier_lessons(lesson: Lesson) -> QuerySet[Lesson]:
    """Select the signed lessons of the same student before this one, each in the version that counts."""
    before = Q(on__lt=lesson.on) | Q(on=lesson.on, number__lt=lesson.number)
    return Lesson.objects.filter(before, enrolment=lesson.enrolment_id).signed().current()
