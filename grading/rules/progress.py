"""Lay out a student's circuits over time: what each part counted as, help, numbers at the gates, faults. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from grading.rules.readiness.checks.parts import progress_by_part
from grading.rules.readiness.facts import CircuitFact
from grading.rules.readiness.faults import FaultCourse, fault_courses
from grading.rules.readiness.history import History
from lessons.rules.scale import Ending

NUMBERS_SHOWN, FAULTS_SHOWN = 6, 6


@dataclass(frozen=True)
class PartCourse:
    """One part, circuit by circuit: level as which it counts and help, None where it was not flown."""

    part: str
    words: str
    grades: tuple[tuple[str, str] | None, ...]


@dataclass(frozen=True)
class NumberCourse:
    """One number, circuit by circuit, as its deviation from the target of its day; None where it was not noted.

    tracked: the places of those that were entered from a flight track.
    """

    gate: str
    quantity: str
    unit: str
    over: float
    under: float
    amounts: tuple[float | None, ...]
    tracked: tuple[int, ...] = ()

    @property
    def noted(self) -> int:
        return sum(amount is not None for amount in self.amounts)

    def newest(self, cut: int) -> "NumberCourse":
        """Return the same without the first circuits."""
        tracked = tuple(place - cut for place in self.tracked if place >= cut)
        return replace(self, amounts=self.amounts[cut:], tracked=tracked)


@dataclass(frozen=True)
class FaultLine:
    """One fault over the circuits drawn: where it was seen, and the spans in which it was open."""

    name: str
    critical: bool
    seen: tuple[int, ...]
    spans: tuple[tuple[int, int | None], ...]


@dataclass(frozen=True)
class Progress:
    """The circuits that are drawn, oldest first: (lesson, circuit) of each, and its courses."""

    columns: tuple[tuple[int, int], ...]
    parts: tuple[PartCourse, ...]
    numbers: tuple[NumberCourse, ...]
    faults: tuple[FaultLine, ...]

    def newest(self, most: int) -> "Progress":
        """Return the same of the last circuits alone."""
        cut = max(len(self.columns) - most, 0)
        if not cut:
            return self
        return Progress(
            self.columns[cut:],
            tuple(replace(row, grades=row.grades[cut:]) for row in self.parts),
            tuple(row for row in (row.newest(cut) for row in self.numbers) if row.noted),
            tuple(line for row in self.faults if (line := _cut_fault(row, cut))),
        )


def build_progress(history: History, most: int) -> Progress:
    """Return the last circuits that count, at most so many."""
    circuits = history.circuits
    words = {part: progress.words for part, progress in progress_by_part(history).items()}
    parts = [
        PartCourse(part, words.get(part, ""), tuple(_grade(circuit, part) for _, circuit in circuits))
        for part in history.rules
    ]
    faults = [FaultLine(row.name, row.critical, row.seen, row.spans) for row in _newest_faults(history)]
    columns = tuple((lesson.number, circuit.number) for lesson, circuit in circuits)
    whole = Progress(columns, tuple(parts), tuple(_numbers(history)), tuple(faults)).newest(most)
    # Those with most numbers say most; all of them would make a figure that nobody reads.
    shown = sorted(whole.numbers, key=lambda row: -row.noted)[:NUMBERS_SHOWN]
    return replace(
        whole, numbers=tuple(row for row in whole.numbers if row in shown), faults=whole.faults[:FAULTS_SHOWN]
    )


def _grade(circuit: CircuitFact, part: str) -> tuple[str, str] | None:
    attempt = getattr(circuit, part)
    if attempt is not None:
        return attempt.counted.value, attempt.help.value
    return ("go_around", "none") if part == "landing" and circuit.ending is Ending.GO_AROUND else None


def _numbers(history: History) -> Iterable[NumberCourse]:
    """Yield each number in the order flown; of several units of one number the newest, as amounts do not compare."""
    places = {(lesson.number, circuit.number): place for place, (lesson, circuit) in enumerate(history.circuits)}
    for noted in history.numbers().values():
        newest = noted[-1][1]
        amounts: list[float | None] = [None] * len(places)
        tracked = []
        for flown, number in noted:
            if flown.circuit is not None and number.unit == newest.unit:
                place = places[flown.lesson.number, flown.circuit.number]
                amounts[place] = round(number.amount, 1)
                tracked += [place] * number.from_track
        course = NumberCourse(
            newest.gate, newest.quantity, newest.unit, newest.over, newest.under, tuple(amounts), tuple(tracked)
        )
        if course.noted:
            yield course


def _newest_faults(history: History) -> Sequence[FaultCourse]:
    """Return the faults, those open now first, each group by the one seen last."""
    return sorted(fault_courses(history), key=lambda row: (row.spans[-1][1] is not None, -row.seen[-1]))


def _cut_fault(row: FaultLine, cut: int) -> FaultLine | None:
    """Return a fault as the circuits from a place on show it; None where it had cleared before them."""
    spans = tuple(
        (max(begin - cut, 0), None if end is None else end - cut)
        for begin, end in row.spans
        if end is None or end >= cut
    )
    return replace(row, seen=tuple(place - cut for place in row.seen if place >= cut), spans=spans) if spans else None
