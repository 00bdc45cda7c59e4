"""Draw the pictures of a progress sheet from its plain content, which is what was sealed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import msgspec

from grading.rules.flown import ABEAM, FlownCircuit, NumberTarget, Pattern, amount_words
from grading.rules.progress import NumberCourse, Progress
from lessons.rules.pattern import Leg, Shape, Station, Track, UnclosedCircuit, lay_out
from lessons.rules.unit_words import scale_bar
from lessons.rules.units import DisplayUnits, convert
from school.formats import write_day, write_number, write_tolerance, write_wind
from school.marks.figures import PartGrade
from school.marks.paper import PaperPart, PaperSeries, circuits_on_paper, figure_height, in_points
from school.marks.paper_approach import ApproachGate, ApproachLine, TouchdownZone, approach_heights, approach_plan

PRINT_FONT = "Atkinson Hyperlegible Next"
NUMBERS_DRAWN = (("final", "speed"), ("touchdown", "distance"))
TRACK_POINTS = 60
Plain = Mapping[str, Any]


@dataclass(frozen=True)
class ApproachPictures:
    """The last approaches: plan (empty where the distances make no circuit), heights, a sentence, the last one.

    tracked: whether a number of them came from a flight track, so that the key must say what a T is.
    """

    plan: str
    heights: str
    circuits: int
    words: str
    last: str
    tracked: bool = False


@dataclass(frozen=True)
class ProgressPicture:
    """Every circuit as a column, with how many are drawn of all that are in the content."""

    drawing: str
    circuits: int
    words: str
    height_pt: float
    tracked: bool = False


def draw_approaches(sheet: Plain, *, small: bool = False) -> ApproachPictures | None:
    """Return the pictures of the last approaches; None without one, and for a sheet printed before there were any."""
    plain = sheet.get("approaches")
    if not plain:
        return None
    pattern = msgspec.convert(plain["pattern"], Pattern)
    circuits = msgspec.convert(plain["circuits"], list[FlownCircuit])
    words = approaches_sentence(circuits, pattern)
    label = f"The last {len(circuits)} approaches. {words}"
    track = _track(pattern, plain.get("shape") or Shape.SQUARE)
    begin = pattern.by_code[ABEAM].along_ft if ABEAM in pattern.by_code else 0
    gates = [gate for gate in _gates(pattern, track) if gate.along >= begin]
    lines = [_line(row, pattern, begin) for row in circuits]
    plan = ""
    if track and len(gates) > 1:
        points = [track.position_at(begin + (track.length - begin) * step / TRACK_POINTS) for step in range(61)]
        bar, name = scale_bar(DisplayUnits(**sheet["units"])), f"Plan of the target. {label}"
        plan = _for_paper(approach_plan(gates, points, lines, _zone(pattern), name, scale_bar=bar, small=small))
    heights = ""
    if len(gates) > 1:
        unit = next((row.unit for row in pattern.targets if row.quantity == "height"), "ft")
        heights = _for_paper(approach_heights(gates, lines, unit, _ticks(gates, unit), label, small=small))
    tracked = any(row.tracked for row in circuits)
    return ApproachPictures(plan, heights, len(circuits), words, _last_words(plain, circuits[-1]), tracked)


def approaches_sentence(circuits: Sequence[FlownCircuit], pattern: Pattern) -> str:
    """Return how many numbers were inside, and each one outside with its lesson and circuit, the newest first."""
    noted, outside = sum(len(row.values) for row in circuits), sum(len(row.outside) for row in circuits)
    said = f"{noted - outside} of {noted} numbers inside."
    rows = [
        _outside_words(row, target)
        for row in reversed(circuits)
        for target in pattern.targets
        if target.key in row.outside
    ]
    more = f"; and {len(rows) - MOST_OUTSIDE} more" if len(rows) > MOST_OUTSIDE else ""
    return f"{said} Outside: {'; '.join(rows[:MOST_OUTSIDE])}{more}." if rows else said


def _outside_words(row: FlownCircuit, target: NumberTarget) -> str:
    number = f"{write_number(row.values[target.key])} {target.unit}" + " T" * (target.key in row.tracked)
    where = f"lesson {row.lesson}, circuit {row.circuit}, {target.gate.replace('-', ' ')} {target.quantity}"
    return f"{where} {number}, {amount_words(row.amounts[target.key], target)}"


MOST_OUTSIDE = 3


def _for_paper(svg: str) -> str:
    # The printer of sheets applies no style sheet within a drawing.
    return in_points(svg).replace("<svg ", f'<svg font-family="{PRINT_FONT}" ', 1)


def _track(pattern: Pattern, shape: str) -> Track | None:
    stations = [Station(gate.code, Leg(gate.leg), gate.along_ft) for gate in pattern.gates]
    try:
        return lay_out(stations, Shape(shape))
    except (UnclosedCircuit, IndexError):
        return None


def _gates(pattern: Pattern, track: Track | None) -> list[ApproachGate]:
    heights = {row.gate: row for row in pattern.targets if row.quantity == "height"}
    rows = []
    for gate in pattern.gates:
        x, y = track.position_at(gate.along_ft) if track else (0.0, 0.0)
        asked = heights.get(gate.code)
        name = gate.name.removeprefix("The ").removesuffix(" the point")
        name = name[0].upper() + name[1:]
        limits = (asked.value, asked.over, asked.under) if asked else (None, 0.0, 0.0)
        if gate is pattern.gates[-1] and not asked:
            limits = (0.0, 0.0, 0.0)  # the ground
        rows.append(ApproachGate(name, gate.along_ft, x, y, *limits))
    return rows


def _line(circuit: FlownCircuit, pattern: Pattern, begin: float) -> ApproachLine:
    heights = [
        (float(gate.along_ft), circuit.values[key], key not in circuit.outside)
        for gate in pattern.gates
        if gate.along_ft >= begin and (key := f"{gate.code}.height") in circuit.values
    ]
    tracked = [float(gate.along_ft) for gate in pattern.gates if f"{gate.code}.height" in circuit.tracked]
    target = pattern.touchdown
    if target is None or target.key not in circuit.values:
        return ApproachLine(heights, tracked=tracked)
    feet = circuit.values[target.key] * float(convert(1, target.unit, "ft"))
    touchdown = feet, circuit.inside(target.key)
    return ApproachLine(heights, touchdown, tracked, touchdown_tracked=target.key in circuit.tracked)


def _zone(pattern: Pattern) -> TouchdownZone | None:
    target = pattern.touchdown
    if target is None:
        return None
    feet = float(convert(1, target.unit, "ft"))
    low, high = target.value - target.under, target.value + target.over
    sign = "+" if low > 0 else ""
    words = f"{sign}{write_number(low)} to +{write_number(high)} {target.unit}"
    return TouchdownZone(low * feet, high * feet, words)


def _ticks(gates: Sequence[ApproachGate], unit: str) -> list[tuple[float, str]]:
    """Return how far it is to go at each gate, and the aiming point at the last."""
    end, feet = gates[-1].along, float(convert(1, unit, "ft"))
    rows = [(gate.along, f"{write_number((end - gate.along) / feet, 0)} {unit}") for gate in gates[:-1]]
    return [*rows, (end, "aiming point")]


def _last_words(plain: Plain, circuit: FlownCircuit) -> str:
    last = plain.get("last")
    words = f"Thick: the last one, lesson {circuit.lesson}, circuit {circuit.circuit}"
    if not last:
        return f"{words}."
    words += f", {write_day(date.fromisoformat(last['date']))}"
    words += f", {last['runway']}" if last["runway"] else ""
    wind = last["wind"]
    if wind["speed_kt"] is not None:
        words += f", wind {write_wind(wind['from'], wind['speed_kt'], wind['gust_kt'], wind['north'])}"
    return f"{words}."


def draw_progress(sheet: Plain) -> ProgressPicture | None:
    """Return the figure of every circuit; None without one, and for a sheet printed before there was any."""
    progress = msgspec.convert(sheet.get("progress") or {}, Progress) if sheet.get("progress") else None
    if progress is None or not progress.columns:
        return None
    units = DisplayUnits(**sheet["units"])
    parts = [
        PaperPart(part.part.capitalize(), _short(part.words), [PartGrade(*grade) if grade else None for grade in
                                                               part.grades])
        for part in progress.parts
    ]  # fmt: skip
    how_far = "; ".join(f"{part.part} {part.words}" for part in progress.parts)
    words = f"To standard: {how_far}."
    series = [_series(row, units, sheet) for row in _numbers(progress)]
    drawing = circuits_on_paper([lesson for lesson, _ in progress.columns], parts, series, f"Every circuit. {words}")
    high, tracked = figure_height(len(parts), len(series)), any(row.tracked for row in series)
    return ProgressPicture(_for_paper(drawing), len(progress.columns), words, high, tracked)


def _short(words: str) -> str:
    """Return "10 of 10" of "10 of the last 10": beside a row of squares there is no room for more."""
    return words.replace(" of the last ", " of ")


def _numbers(progress: Progress) -> list[NumberCourse]:
    """Return speed on final and touchdown; where a type has neither, the two numbers noted most often."""
    chosen = [row for row in progress.numbers if (row.gate, row.quantity) in NUMBERS_DRAWN]
    return chosen or sorted(progress.numbers, key=lambda row: -row.noted)[: len(NUMBERS_DRAWN)]


def _series(row: NumberCourse, units: DisplayUnits, sheet: Plain) -> PaperSeries:
    unit = units.unit_for(row.unit)
    share = float(convert(1, row.unit, unit))
    over, under = row.over * share, row.under * share
    amounts = [None if amount is None else amount * share for amount in row.amounts]
    gate = row.gate.replace("-", " ").capitalize()
    name = gate if row.gate == "touchdown" else f"{gate}, {row.quantity}"
    targets = ((sheet.get("approaches") or {}).get("pattern") or {}).get("targets", ())
    aim = next(
        (each["value"] for each in targets if (each["gate"], each["quantity"]) == (row.gate, row.quantity)), None
    )
    tolerance = " ".join(write_tolerance(over, under))
    target = f"{write_number(aim)} {unit} {tolerance}" if aim is not None else f"{tolerance} {unit}"
    return PaperSeries(name, target, over, under, amounts, row.tracked)
