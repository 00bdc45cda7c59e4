"""This module draws a student's progress: parts, help, numbers and faults circuit by circuit, hours by month."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from grading.pages.flown_pictures import Drawn, draw_twice
from grading.reading.grade_grid import GradeGrid, read_grade_grid
from grading.reading.student_summary import StudentSummary
from grading.rules.flown import plain_number
from grading.rules.gate_words import SIDES, amount_with_side
from grading.rules.progress import NumberCourse, Progress, build_progress
from lessons.models import Lesson
from lessons.rules.scale import Ending, Help, Level
from lessons.rules.units import DisplayUnits, convert
from school import marks
from school.marks import FaultMarks, GateSeries, MonthHours, PartGrade, ProgressRows
from school.templatetags.marks import hours

CIRCUITS_SHOWN, CIRCUITS_ON_TELEPHONE = 60, 30
MONTHS_SHOWN, MONTHS_ON_TELEPHONE = 12, 6


@dataclass(frozen=True)
class CircuitWords:
    """One circuit in the table: its lesson, its number, each part in words, its numbers, the faults seen in it."""

    lesson: int
    circuit: int
    parts: list[str]
    numbers: str
    faults: str


@dataclass(frozen=True)
class ProgressOverTime:
    """The figures, each with its sentence as its name, and the same as rows. `circuits` is None without a circuit.

    grades: the last lessons, of those on the ground too.
    """

    sentence: str
    circuits: Drawn | None
    parts: list[str]
    rows: list[CircuitWords]
    grades: GradeGrid
    months: Drawn | None
    month_rows: list[tuple[str, str, str]]


def build_progress_over_time(row: StudentSummary) -> ProgressOverTime:
    """Return the progress from the history of the row; one query, for the grades."""
    progress = build_progress(row.history, CIRCUITS_SHOWN)
    sentence, months = progress_sentence(progress), hours_of_months(row.read.lessons)
    hours_label = "Hours flown by month"
    return ProgressOverTime(
        sentence,
        draw_twice(lambda narrow: draw_progress(progress, row.units, sentence, narrow=narrow))
        if progress.columns
        else None,
        [part.part for part in progress.parts],
        _table(progress, row.units),
        read_grade_grid(row.read.lessons),
        draw_twice(lambda narrow: marks.hours_by_month(_newest(months, narrow=narrow), hours_label, narrow=narrow))
        if months
        else None,
        [(month.month, str(hours(month.dual)), str(hours(month.solo))) for month in months],
    )


def progress_sentence(progress: Progress) -> str:
    """Return how many circuits are drawn, and how far each part is."""
    many, lessons = len(progress.columns), len({lesson for lesson, _ in progress.columns})
    if not many:
        return "No circuits yet."
    how_far = "; ".join(f"{part.part} {part.words}" for part in progress.parts)
    return f"{_counted(many, 'circuit')} over {_counted(lessons, 'lesson')}, to standard: {how_far}."


def _counted(many: int, word: str) -> str:
    return f"{many} {word}{'' if many == 1 else 's'}"


def draw_progress(
    progress: Progress, units: DisplayUnits, label: str, *, narrow: bool = False, halo: bool = True
) -> str:
    """Draw the circuits; fewer of them on a telephone."""
    shown = progress.newest(CIRCUITS_ON_TELEPHONE) if narrow else progress
    rows = ProgressRows(
        [lesson for lesson, _ in shown.columns],
        [
            (part.part.capitalize(), part.words, [PartGrade(*grade) if grade else None for grade in part.grades])
            for part in shown.parts
        ],
        [_series(number, units) for number in shown.numbers],
        [FaultMarks(row.name, row.seen, row.spans) for row in shown.faults],
    )
    return marks.progress_figure(rows, label, narrow=narrow, halo=halo)


def _series(number: NumberCourse, units: DisplayUnits) -> tuple[GateSeries, list[float | None]]:
    unit = units.unit_for(number.unit)
    share = float(convert(1, number.unit, unit))
    over, under = number.over * share, number.under * share
    high, low = SIDES[number.quantity]
    tolerance = f"+{plain_number(over)} \u2212{plain_number(under)} {'°' if unit == 'deg' else unit}"
    name = _number_name(number)
    amounts = [None if amount is None else amount * share for amount in number.amounts]
    return GateSeries(f"{number.gate}/{number.quantity}", name, tolerance, over, under, high, low), amounts


def _number_name(number: NumberCourse) -> str:
    gate = number.gate.replace("-", " ").capitalize()
    return gate if number.gate == "touchdown" else f"{gate}, {number.quantity}"


def _table(progress: Progress, units: DisplayUnits) -> list[CircuitWords]:
    """Return the circuits in words, the newest first."""
    rows = []
    for place, (lesson, circuit) in enumerate(progress.columns):
        parts = [_grade_words(part.grades[place]) for part in progress.parts]
        numbers = "; ".join(words for row in progress.numbers if (words := _amount_words(row, place, units)))
        faults = "; ".join(row.name for row in progress.faults if place in row.seen)
        rows.append(CircuitWords(lesson, circuit, parts, numbers, faults))
    return rows[::-1]


def _grade_words(grade: tuple[str, str] | None) -> str:
    if grade is None:
        return "not flown"
    level, help_ = grade
    if level == "go_around":
        return Ending.GO_AROUND.label
    return Level(level).label if help_ == Help.NONE else f"{Level(level).label}, {Help(help_).label}"


def _amount_words(row: NumberCourse, place: int, units: DisplayUnits) -> str:
    amount = row.amounts[place]
    if amount is None:
        return ""
    unit = units.unit_for(row.unit)
    read = abs(amount) * float(convert(1, row.unit, unit))
    away = amount_with_side(read, unit, row.quantity, over=amount > 0) if amount else "on target"
    outside = "" if -row.under <= amount <= row.over else ", outside"
    return f"{_number_name(row)} {away}{outside}" + ", from a track" * (place in row.tracked)


def hours_of_months(lessons: Iterable[Lesson]) -> list[MonthHours]:
    """Return every month from the first lesson to the last of a year at most, those without a flight too."""
    minutes: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
    for lesson in lessons:
        flown = minutes[lesson.on.year, lesson.on.month]
        flown[0] += lesson.dual_minutes
        flown[1] += lesson.solo_minutes
    if not minutes:
        return []
    (year, month), last = min(minutes), max(minutes)
    months = list[MonthHours]()
    while (year, month) <= last:
        dual, solo = minutes.get((year, month), (0, 0))
        months.append(MonthHours(f"{date(year, month, 1):%b} {year % 100:02d}", dual, solo, str(hours(dual + solo))))
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    return months[-MONTHS_SHOWN:]


def _newest(months: Sequence[MonthHours], *, narrow: bool) -> Sequence[MonthHours]:
    return months[-MONTHS_ON_TELEPHONE:] if narrow else months
