"""This module gathers the faults of a lesson for its debrief, each with the numbers that point to it and a picture."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from grading.models import Attempt, Measure
from grading.pages.flown_pictures import Drawn, picture_of_number
from grading.pages.pads import AttemptSummary, MeasureReading, deviation_sign, track_words
from grading.reading.flown import FlownLesson
from grading.reading.grade_lines import GradingContext, measured_deviation
from grading.rules.debrief import FaultInLesson, fault_order
from grading.rules.flown import FlownCircuit
from lessons.models import Fault
from lessons.models.published_values import PublishedFault
from lessons.published_content import faults_by_manoeuvre
from lessons.rules.scale import Part

# On one page, A4 or Letter, beside both views and what changed; measured with the faults of the invented syllabus.
PRINTED_FULL, PRINTED_LINES = 3, 8
PLACES = {part.value: place for place, part in enumerate(Part)}


@dataclass(frozen=True)
class PointingNumber:
    """A number outside its tolerance that points to a fault. `key`: its gate and quantity."""

    circuit: int
    key: str
    reading: MeasureReading


@dataclass(frozen=True)
class FaultShown:
    """One fault of a lesson. `tapped`: the instructor saw it; else numbers alone point to it.

    circuits: their numbers; none for a manoeuvre by itself. picture: the last number that points to it, with the same
    number of the other circuits; None where no number does or it has no strip. printed_numbers: how many go on paper.
    """

    fault: Fault | PublishedFault
    tapped: bool
    circuits: tuple[int, ...]
    numbers: tuple[PointingNumber, ...]
    picture: Drawn | None
    seen: FaultInLesson
    printed_numbers: int = 1

    @property
    def unprinted_numbers(self) -> int:
        return max(len(self.numbers) - self.printed_numbers, 0)


@dataclass(frozen=True)
class FaultList:
    """Faults as the page lists them, all in full; and how they fit on one printed page.

    printed_full: how many of them are printed in full; printed_lines: those printed in one line after them;
    not_printed: how many are left to the page itself.
    """

    rows: Sequence[FaultShown]
    printed_full: int
    printed_lines: Sequence[FaultShown]
    not_printed: int


def lists_for_one_page(faults: Sequence[FaultShown]) -> tuple[FaultList, FaultList]:
    """Return the faults that were noted and those that numbers alone point to; the noted ones go first on paper."""
    tapped, hinted = [row for row in faults if row.tapped], [row for row in faults if not row.tapped]
    noted = _fit(tapped, PRINTED_FULL, PRINTED_LINES)
    room = PRINTED_FULL - noted.printed_full, PRINTED_LINES - len(noted.printed_lines)
    return noted, _fit(hinted, *room)


def _fit(rows: Sequence[FaultShown], full: int, lines: int) -> FaultList:
    whole = min(full, len(rows))
    short = rows[whole : whole + lines]
    return FaultList(rows, whole, short, len(rows) - whole - len(short))


def faults_of_lesson(flown: FlownLesson) -> list[FaultShown]:
    """Return the faults seen, the one to work on first, then those that only numbers point to. No query."""
    attempts = [row for row in flown.attempts if row.circuit is None or not row.circuit.shown]
    seen: dict[int, tuple[Fault, list[Attempt]]] = {}
    for attempt in attempts:
        for row in attempt.preloaded_faults:
            seen.setdefault(row.fault_id, (row.fault, []))[1].append(attempt)
    hinted: dict[int, tuple[PublishedFault, list[Attempt]]] = {}
    known = faults_by_manoeuvre(flown.lesson.unit.stage.syllabus_id)
    for attempt in attempts:
        summary = AttemptSummary.of("", attempt, flown.grading_context, known.get(attempt.manoeuvre.code, ()))
        for fault in summary.hints:
            if attempt.circuit is not None and fault.pk not in seen:
                hinted.setdefault(fault.pk, (fault, []))[1].append(attempt)
    shown = [_show(flown, attempts, fault, rows, tapped=True) for fault, rows in seen.values()]
    shown += [_show(flown, attempts, fault, rows, tapped=False) for fault, rows in hinted.values()]
    return sorted(shown, key=lambda row: (row.tapped, fault_order(row.seen)), reverse=True)


def _show(
    flown: FlownLesson, attempts: Iterable[Attempt], fault: Fault | PublishedFault, rows: list[Attempt], *, tapped: bool
) -> FaultShown:
    circuits = tuple(sorted({row.circuit.number for row in rows if row.circuit is not None}))
    # Of the whole circuit: a landing that floats may have been fast on final, which is noted under the approach.
    within = [row for row in attempts if row.circuit is not None and row.circuit.number in circuits]
    numbers = tuple(
        _pointing(row, measure, flown.grading_context)
        for row in within
        for measure in sorted(row.preloaded_measures, key=lambda one: (one.target.gate.order, one.target_id))
        if deviation_sign(measure, flown.grading_context) in fault.signs
    )
    place = max(PLACES.get(row.part, len(PLACES)) for row in rows)
    seen = FaultInLesson(fault.code, fault.name, fault.critical, len(rows), place)
    return FaultShown(fault, tapped, circuits, numbers, _picture(flown, numbers, fault.name), seen)


def _pointing(attempt: Attempt, measure: Measure, grading_context: GradingContext) -> PointingNumber:
    assert attempt.circuit is not None
    counts_from = grading_context.counts_from(attempt.manoeuvre_id, measure.target)
    reading = MeasureReading(measured_deviation(measure, grading_context), counts_from, track_words(measure))
    return PointingNumber(attempt.circuit.number, f"{measure.target.gate.code}.{measure.target.quantity}", reading)


def _picture(flown: FlownLesson, numbers: Sequence[PointingNumber], name: str) -> Drawn | None:
    if not numbers:
        return None
    pointing = numbers[-1]
    shown = flown.circuit(pointing.circuit)
    assert shown is not None
    others: list[FlownCircuit] = [row for row in flown.circuits if row != shown and not row.shown]
    label = f"{name}, circuit {pointing.circuit}: {pointing.reading.words}"
    return picture_of_number(pointing.key, flown.pattern, shown, others, label)
