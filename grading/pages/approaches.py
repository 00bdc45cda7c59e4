"""This module shows the approaches that flight tracks hold over each other: of a student, or of a month on a runway."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from grading.pages.flight_tracks import ended_words
from grading.pages.flown import with_unit
from grading.pages.flown_pictures import Drawn, part_of_circuit
from grading.pages.track_picture import draw_approaches
from grading.pages.track_strips import LaidCircuit, draw_overlaid, lay_circuit
from grading.reading.flown import pattern_in_wind
from grading.reading.grade_lines import GradingContext
from grading.reading.track_approaches import (
    Approach,
    approaches_of,
    approaches_on,
    months_with_tracks,
    runways_with_tracks,
    students_with_tracks,
)
from grading.rules.flown import NumberTarget, Pattern
from lessons.models import Enrolment, GateSet
from lessons.rules.units import DisplayUnits
from school.current import get_school
from school.formats import write_number
from school.models import Runway

MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")
WORST_NAMED = 2
Column = tuple[str, NumberTarget]


@dataclass(frozen=True)
class ApproachRow:
    """One approach in the table: number, uncertainty and place of each column, '' where the track tells none."""

    approach: Approach
    ended: str
    cells: Sequence[tuple[str, str, str]]


@dataclass(frozen=True)
class ApproachGroup:
    """The approaches by one issue of gates on one runway: what they show, pictures, and a table of every number."""

    heading: str
    sentence: str
    plan: Drawn | None
    strips: Drawn | None
    columns: Sequence[Column]
    rows: Sequence[ApproachRow]
    counts: Sequence[str]


def approaches_context(asked: Mapping[str, str]) -> dict[str, Any]:
    """Return the choices, and the approaches of what was chosen: `student`, or `runway` with `month`."""
    students, runways, months = students_with_tracks(), runways_with_tracks(), months_with_tracks()
    student = next((row for row in students if str(row.uid) == asked.get("student")), None)
    runway = next((row for row in runways if str(row.pk) == asked.get("runway")), None)
    month = _month(asked.get("month", ""))
    school = get_school()
    units = DisplayUnits(school.speed_unit, school.length_unit)
    found, words = _found(student, runway, month, units)
    return {
        "students": students,
        "runways": runways,
        "months": months,
        "student": student,
        "runway": runway,
        "month": month,
        "asked": bool(student or (runway and month)),
        "words": words,
        "count": len(found),
        "groups": list(_groups(found, runways, units)),
    }


def _month(text: str) -> date | None:
    return date.fromisoformat(f"{text}-01") if MONTH.fullmatch(text) and not text.startswith("0000") else None


def _found(
    student: Enrolment | None, runway: Runway | None, month: date | None, units: DisplayUnits
) -> tuple[list[Approach], str]:
    if student is not None:
        return approaches_of(student, units), f"of {student.student.name}"
    if runway is not None and month is not None:
        where = f"on runway {runway.designator} at {runway.aerodrome.name}, {month:%B %Y}"
        return approaches_on(runway, month, units), where
    return [], ""


def _groups(found: Sequence[Approach], runways: Sequence[Runway], units: DisplayUnits) -> Iterator[ApproachGroup]:
    """Yield the approaches that lie over each other: those by one issue of gates on one runway. One query."""

    def key(row: Approach) -> tuple[int, int, str]:
        return row.track.gate_set_id, row.track.aerodrome_id, row.circuit.runway

    placed = {(row.aerodrome_id, row.designator): row for row in runways}
    issues = GateSet.objects.select_related("aircraft_type").in_bulk({row.track.gate_set_id for row in found})
    for (gates, aerodrome, designator), rows in groupby(sorted(found, key=key), key=key):
        heading = f"{issues[gates].aircraft_type.name}, runway {designator}"
        yield _group(
            list(rows),
            heading,
            pattern_in_wind(gates, GradingContext(units=units)),
            placed.get((aerodrome, designator)),
        )


def _group(rows: Sequence[Approach], heading: str, pattern: Pattern, runway: Runway | None) -> ApproachGroup:
    gates = {gate.code: gate for gate in part_of_circuit(pattern, out=False)}
    columns = [
        (f"{gates[target.gate].number} {gates[target.gate].name}", target)
        for target in pattern.targets
        if target.gate in gates and any(target.key in row.numbers for row in rows)
    ]
    said = _sentence(rows, columns, pattern)
    table = [
        ApproachRow(row, ended_words(row.circuit.ended), [_cell(row, target) for _, target in columns]) for row in rows
    ]
    counts = [_count(rows, target) for _, target in columns]
    if runway is None:
        return ApproachGroup(heading, said, None, None, columns, table, counts)
    laid = [LaidCircuit(lay_circuit(row.track, row.circuit, row.way, runway), row.numbers) for row in rows]
    label = f"{heading}: {said}"
    return ApproachGroup(
        heading,
        said,
        draw_approaches(rows, runway, pattern, label),
        draw_overlaid(pattern, laid, label),
        columns,
        table,
        counts,
    )


def _sentence(rows: Sequence[Approach], columns: Sequence[Column], pattern: Pattern) -> str:
    """Return where most lie outside for certain, at most two numbers: 'speed on final outside in 3 of 6'."""
    outside = Counter(target.key for _, target in columns for row in rows if _place(row, target) == "outside")
    words = [
        f"{target.quantity} {pattern.by_code[target.gate].phrase} outside in {many} of {_told(rows, target)}"
        for key, many in outside.most_common(WORST_NAMED)
        if (target := pattern.target(key))
    ]
    approaches = f"{len(rows)} approach{'' if len(rows) == 1 else 'es'}"
    return f"{approaches}: {', '.join(words) or 'nothing outside beyond its uncertainty'}."


def _place(row: Approach, target: NumberTarget) -> str:
    return row.numbers[target.key].place if target.key in row.numbers else ""


def _told(rows: Sequence[Approach], target: NumberTarget) -> int:
    return sum(target.key in row.numbers for row in rows)


def _cell(row: Approach, target: NumberTarget) -> tuple[str, str, str]:
    number = row.numbers.get(target.key)
    if number is None:
        return "", "", "not_measured"
    return with_unit(round(number.value), target.unit), f"±{write_number(round(number.uncertainty))}", number.place


def _count(rows: Sequence[Approach], target: NumberTarget) -> str:
    """Return '4 inside, 1 outside, 1 not certain', without what is none."""
    places = Counter(_place(row, target) for row in rows)
    words = (("inside", "inside"), ("outside", "outside"), ("unsure", "not certain"))
    return ", ".join(f"{places[place]} {said}" for place, said in words if places[place])
