"""This module draws the last circuits with the gate plots under them, and gives the same as table rows."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from grading.models import Measure
from grading.reading.grade_lines import GradingContext, measured_deviation
from grading.reading.student_summary import StudentSummary, circuit_marks
from grading.rules.gate_words import SIDES
from grading.rules.marking import Deviation
from grading.rules.readiness.facts import CircuitFact
from lessons.conditions import lesson_gusts
from lessons.rules.scale import Help
from lessons.rules.units import DisplayUnits, format_target
from school import marks
from school.marks import CircuitMarks, GateSeries

LESSONS_SHOWN = 4
PLOTTED_TARGETS = ("final/speed", "final/height", "touchdown/distance")


@dataclass(frozen=True)
class CircuitFigure:
    """The figure of the last circuits; `parts`: the columns of its table, each a part of the circuit."""

    drawing: str
    count: int
    parts: list[str]
    table: list[dict[str, Any]]


def build_circuit_figure(row: StudentSummary) -> CircuitFigure | None:
    """Return the figure of the last lessons with circuits, and None where there are none."""
    flown = [lesson for lesson in row.history.lessons if lesson.circuits][-LESSONS_SHOWN:]
    if not flown:
        return None
    deviations, series = _deviations(row, {lesson.id for lesson in flown})
    drawn: list[tuple[str, str, list[CircuitMarks]]] = []
    table: list[dict[str, Any]] = []
    for lesson in flown:
        columns = []
        for circuit in lesson.circuits:
            seen = circuit_marks(circuit)
            values = deviations.get((lesson.id, circuit.number), {})
            columns.append(CircuitMarks(seen.number, seen.parts, {k: v[0] for k, v in values.items()}))
            said = [v[1] for v in values.values()]
            # The same in words: a drawing alone says nothing to a screen reader.
            table.append(
                {"lesson": lesson, "circuit": circuit, "parts": _part_words(circuit, row.progress), "values": said}
            )
        drawn.append((f"Lesson {lesson.number}", f"{lesson.on.day} {lesson.on:%b}", columns))
    count = len(table)
    label = f"The last {count} circuits by their parts, with the values at the gates under them"
    spans = {
        part: marks.PartSpan(len(progress.judged), progress.met, progress.words)
        for part, progress in row.progress.items()
    }
    return CircuitFigure(marks.circuits_figure(drawn, series, spans, label), count, list(row.progress), table)


def _part_words(circuit: CircuitFact, parts: Iterable[str]) -> list[str]:
    """Return each part in words, with a go-around in the place of a landing that was not tried."""
    words = []
    for part in parts:
        attempt = getattr(circuit, part)
        if part == "landing" and attempt is None and circuit.ending:
            words.append(circuit.ending.label.capitalize())
        elif attempt is None or attempt.level is None:
            words.append("Not graded")
        else:
            step = attempt.step.capitalize() or attempt.level.label
            lowered = f", counts as {attempt.counted.label}" if attempt.counted is not attempt.level else ""
            helped = "" if attempt.help is Help.NONE else f", {attempt.help.label}"
            words.append(f"{step}{helped}{lowered}")
    return words


def _deviations(
    row: StudentSummary, uids: set[str]
) -> tuple[dict[tuple[str, int], dict[str, tuple[float, str]]], list[GateSeries]]:
    """Return the numbers in the circuits of some lessons, by lesson and circuit, and the series to plot."""
    found: dict[tuple[str, int], dict[str, tuple[float, str]]] = defaultdict(dict)
    series: dict[str, GateSeries] = {}
    for lesson in (lesson for lesson in row.read.lessons if str(lesson.uid) in uids):
        # The speeds alone: targets need no direction, and a full wind would cost queries for each lesson.
        grading_context = GradingContext(wind=lesson_gusts(lesson), units=row.units)
        measures = [(noted.circuit, noted) for noted in row.read.measures.get(lesson.pk, [])]  # type: ignore[attr-defined] # see Rows
        for circuit, measure in sorted(measures, key=lambda pair: pair[1].target.gate.order):
            # A manoeuvre flown by itself has no column in the figure.
            if circuit is None:
                continue
            seen = measured_deviation(measure, grading_context)
            key = f"{measure.target.gate.code}/{measure.target.quantity}"
            found[str(lesson.uid), circuit][key] = (float(seen.said(seen.amount)), seen.words)
            series[key] = _gate_series(key, measure, seen, row.units)
    return found, [series[key] for key in PLOTTED_TARGETS if key in series]


def _gate_series(key: str, measure: Measure, seen: Deviation, units: DisplayUnits) -> GateSeries:
    target = measure.target
    high, low = SIDES[target.quantity]
    gate = target.gate.name.removeprefix("The ").capitalize()
    return GateSeries(
        key=key,
        name=f"{gate} {target.quantity}" if target.quantity != "distance" else gate,
        target=format_target(target.value, target.over, target.under, target.unit, units),
        over=float(seen.said(Fraction(target.over))),
        under=float(seen.said(Fraction(target.under))),
        high_word=high,
        low_word=low,
    )
