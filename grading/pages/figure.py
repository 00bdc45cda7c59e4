"""The run of circuits with the gate plots under it, and the same as table rows."""

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from grading.models import Measure
from grading.pages.students import NEEDED, StudentRow, circuit_marks
from grading.proposals import deviation_of, wind_of
from grading.readiness.facts import Circuit
from lessons.models import Lesson
from lessons.scale import Help
from school import marks
from school.marks import CircuitMarks, Series

LESSONS_SHOWN = 4
PLOTTED = (("landing-line", "speed"), ("landing-line", "height"), ("touchdown", "distance"))
WORDS = {"speed": ("fast", "slow"), "height": ("high", "low"), "distance": ("long", "short")}


@dataclass(frozen=True)
class Figure:
    drawing: str
    count: int
    table: list[dict[str, Any]]


def run_of_circuits(row: StudentRow) -> Figure | None:
    """The last lessons with circuits; None when there are none. Two queries."""
    flown = [lesson for lesson in row.history.lessons if lesson.circuits][-LESSONS_SHOWN:]
    if not flown:
        return None
    deviations, series = _deviations([lesson.id for lesson in flown])
    drawn: list[tuple[str, str, list[CircuitMarks]]] = []
    table: list[dict[str, Any]] = []
    for lesson in flown:
        columns = []
        for circuit in lesson.circuits:
            seen = circuit_marks(circuit)
            values = deviations.get((lesson.id, circuit.number), {})
            columns.append(CircuitMarks(seen.number, seen.parts, {k: v[0] for k, v in values.items()}))
            said = [v[1] for v in values.values()]
            table.append({"lesson": lesson, "circuit": circuit, "parts": _part_words(circuit), "values": said})
        drawn.append((f"Lesson {lesson.number}", f"{lesson.on.day} {lesson.on:%b}", columns))
    count = len(table)
    label = f"The last {count} circuits, takeoff, approach and landing, with the values at the gates under them"
    return Figure(marks.run_figure(drawn, series, row.rows, NEEDED, label), count, table)


def _part_words(circuit: Circuit) -> list[str]:
    """Takeoff, approach and landing in words; a go-around stands in the place of the landing."""
    words = []
    for attempt in (circuit.takeoff, circuit.approach, circuit.landing):
        if attempt is None or attempt.level is None:
            words.append("Not graded")
        elif attempt.help is Help.NONE:
            words.append(attempt.level.label)
        else:
            words.append(f"{attempt.level.label}, {attempt.help.label}")
    if circuit.landing is None and circuit.ending:
        words[2] = circuit.ending.label.capitalize()
    return words


def _deviations(uids: list[str]) -> tuple[dict[tuple[str, int], dict[str, tuple[float, str]]], list[Series]]:
    rows = Measure.objects.filter(attempt__lesson__uid__in=uids, attempt__circuit__isnull=False).select_related(
        "target__gate", "attempt__circuit", "attempt__lesson"
    )
    found: dict[tuple[str, int], dict[str, tuple[float, str]]] = defaultdict(dict)
    series: dict[tuple[str, str], Series] = {}
    for measure in rows.order_by("target__gate__order"):
        key = measure.target.gate.code, measure.target.quantity
        lesson: Lesson = measure.attempt.lesson
        seen = deviation_of(measure, wind_of(lesson))
        circuit = measure.attempt.circuit
        assert circuit is not None
        found[str(lesson.uid), circuit.number]["/".join(key)] = (float(seen.amount), seen.words)
        series[key] = _series(measure)
    return found, [series[key] for key in PLOTTED if key in series]


def _series(measure: Measure) -> Series:
    target = measure.target
    high, low = WORDS[target.quantity]
    gate = target.gate.name.removeprefix("The ").capitalize()
    return Series(
        key=f"{target.gate.code}/{target.quantity}",
        name=f"{gate} {target.quantity}" if target.quantity != "distance" else gate,
        target=f"{target.value.normalize():f} {target.unit} "
        f"+{target.over.normalize():f} \u2212{target.under.normalize():f}",
        over=float(target.over),
        under=float(target.under),
        high_word=high,
        low_word=low,
    )
