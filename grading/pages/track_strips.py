"""This module draws what a flight track tells along the way: heights, speeds and bank over the targets at the gates."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from grading.models import FlightTrack
from grading.pages.flown_pictures import (
    STRIP_TITLES,
    Drawn,
    ObstacleSpot,
    distance_ticks,
    draw_twice,
    height_unit,
    part_of_circuit,
)
from grading.reading.flight_tracks import KeptCircuit
from grading.rules.flown import STRIP_QUANTITIES, GatePlace, NumberTarget, Pattern, amount_words, plain_number
from grading.rules.track_judgement import READ_IN, TrackNumber
from lessons.published_content import gates_in_order
from lessons.rules.flight_track import FieldWind
from lessons.rules.flight_track.along_target import AlongPoint, lay_along
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.flight_track.setting import air_movement
from lessons.rules.pattern import Leg, Station, Track, UnclosedCircuit, lay_out
from lessons.rules.units import convert
from school import marks
from school.marks import StripGate, StripObstacle, TrackReading, TrackStrip
from school.models import Runway

RUN_IN_SHARE, RUN_ON_FT = 0.06, 600.0
SPEED_NOTE = "solid: air, broken: ground"
GROUND_SPEED_NOTE = "over the ground alone"
BANK_NOTE = "dotted: asked for"


@dataclass(frozen=True)
class LaidCircuit:
    """A circuit laid along the target's way, with the readings that have a target by its key."""

    points: Sequence[AlongPoint]
    numbers: Mapping[str, TrackNumber]


def target_track(gate_set_id: int) -> Track | None:
    """Return the target's way of an issue of gates, None where their distances make no circuit."""
    shape, rows = gates_in_order(gate_set_id)
    try:
        return lay_out([Station(row.code, Leg(row.leg), row.along_ft) for row in rows], shape)
    except UnclosedCircuit:
        return None


def lay_circuit(track: FlightTrack, circuit: KeptCircuit, way: Sequence[Point], runway: Runway) -> list[AlongPoint]:
    """Return the points of a circuit along the target's way; none for one that went another way."""
    target = target_track(track.gate_set_id)
    if target is None or circuit.off_pattern or circuit.orbits:
        return []
    wind = None
    if track.wind_speed_kt is not None:
        field = FieldWind(float(track.wind_from or 0), float(track.wind_speed_kt))
        wind = air_movement(field, true_heading(runway), left=runway.circuit == Runway.CircuitSide.LEFT)
    return lay_along(way, target, wind, float(track.aerodrome.elevation_ft))


def true_heading(runway: Runway) -> float:
    """Return the true heading of a runway, by its magnetic one where nobody typed it."""
    if runway.heading_true is not None:
        return float(runway.heading_true)
    return float(runway.heading_magnetic) + float(runway.aerodrome.variation_deg)


def draw_strips(
    pattern: Pattern,
    shown: LaidCircuit,
    earlier: Sequence[LaidCircuit],
    label: str,
    obstacles: Sequence[ObstacleSpot] = (),
    *,
    out: bool,
) -> Drawn | None:
    """Draw the approach of a circuit, or with `out` its way before; None where the track tells nothing there."""
    gates = part_of_circuit(pattern, out=out)
    if not gates or not shown.points:
        return None
    span = _span(pattern, gates, out=out)
    strips = [strip for name in STRIP_QUANTITIES if (strip := _strip(name, pattern, gates, shown, earlier))]
    if not strips:
        return None
    unit = height_unit(pattern)
    stops = [] if out else [_obstacle(row, pattern, shown, unit) for row in obstacles]
    hairs = [(gate.number, float(gate.along_ft)) for gate in gates]
    ticks = distance_ticks(pattern, gates, unit)
    return draw_twice(
        lambda narrow: marks.track_strips(strips, hairs, span, ticks, label, obstacles=stops, narrow=narrow)
    )


def draw_overlaid(pattern: Pattern, circuits: Sequence[LaidCircuit], label: str) -> Drawn | None:
    """Draw the heights and the speeds of many approaches over each other, none thicker than another."""
    gates = part_of_circuit(pattern, out=False)
    strips = []
    for quantity in ("height", "speed"):
        by_gate = {row.gate: row for row in pattern.targets if row.quantity == quantity}
        asked = [(gate, by_gate[gate.code]) for gate in gates if gate.code in by_gate]
        factor = float(convert(1, READ_IN[quantity], asked[0][1].unit)) if asked else 1.0
        told = [row for row in circuits if quantity != "height" or any(key.endswith(".height") for key in row.numbers)]
        lines = [_scaled(_line(quantity, row.points), factor) for row in told]
        if asked and any(lines):
            strips.append(
                TrackStrip(
                    quantity,
                    f"{STRIP_TITLES[quantity]}, {asked[0][1].unit}",
                    [StripGate(gate.number, gate.along_ft, row.value, row.over, row.under) for gate, row in asked],
                    [],
                    earlier=lines,
                    note="through the air" if quantity == "speed" else "",
                )
            )
    if not strips:
        return None
    hairs = [(gate.number, float(gate.along_ft)) for gate in gates]
    span, ticks = _span(pattern, gates, out=False), distance_ticks(pattern, gates, height_unit(pattern))
    return draw_twice(lambda narrow: marks.track_strips(strips, hairs, span, ticks, label, narrow=narrow))


def _span(pattern: Pattern, gates: Sequence[GatePlace], *, out: bool) -> tuple[float, float]:
    first, last = float(gates[0].along_ft), float(gates[-1].along_ft)
    if out:
        after = next((gate.along_ft for gate in pattern.gates if gate.along_ft > last), last)
        return 0.0, (last + after) / 2
    return first - RUN_IN_SHARE * (last - first), last + RUN_ON_FT


def _strip(
    quantity: str, pattern: Pattern, gates: Sequence[GatePlace], shown: LaidCircuit, earlier: Sequence[LaidCircuit]
) -> TrackStrip | None:
    by_gate = {row.gate: row for row in pattern.targets if row.quantity == quantity}
    asked = [(gate, by_gate[gate.code]) for gate in gates if gate.code in by_gate]
    line = _line(quantity, shown.points)
    # No height is told without a ground that was touched, and no bank without a wind.
    told = quantity != "height" or any(key.endswith(".height") for key in shown.numbers)
    if not told or (quantity == "bank" and not line) or (not asked and quantity == "height"):
        return None
    unit = asked[0][1].unit if asked else _unit_of(quantity, pattern)
    factor = float(convert(1, READ_IN[quantity], unit))
    broken = _line("ground_speed", shown.points) if quantity == "speed" else []
    asked_bank = [(row.along, row.bank_asked) for row in shown.points if row.bank_asked is not None]
    dotted = asked_bank if quantity == "bank" else []
    if not (line or broken):
        return None
    return TrackStrip(
        quantity,
        f"{STRIP_TITLES[quantity]}, {'degrees' if unit == 'deg' else unit}",
        [StripGate(gate.number, gate.along_ft, row.value, row.over, row.under) for gate, row in asked],
        [
            _reading(gate, row, shown.numbers[row.key])
            for gate, row in asked
            if row.key in shown.numbers and gate.along_ft
        ],
        _scaled(line, factor),
        _scaled(broken, factor),
        dotted,
        [_scaled(_line(quantity, row.points), factor) for row in earlier] if quantity != "bank" else [],
        _note(quantity, line, dotted),
    )


def _unit_of(quantity: str, pattern: Pattern) -> str:
    return next((row.unit for row in pattern.targets if row.quantity == quantity), READ_IN[quantity])


def _note(quantity: str, line: Sequence[object], dotted: Sequence[object]) -> str:
    if quantity == "speed":
        return SPEED_NOTE if line else GROUND_SPEED_NOTE
    return BANK_NOTE if quantity == "bank" and dotted else ""


def _line(quantity: str, points: Sequence[AlongPoint]) -> list[tuple[float, float]]:
    name = {"speed": "airspeed"}.get(quantity, quantity)
    rows = [(row.along, getattr(row, name)) for row in points]
    return [(along, float(value)) for along, value in rows if value is not None]


def _scaled(line: Sequence[tuple[float, float]], factor: float) -> list[tuple[float, float]]:
    return [(along, value * factor) for along, value in line]


def _reading(gate: GatePlace, target: NumberTarget, number: TrackNumber) -> TrackReading:
    amount = round(number.value - target.value)
    said = amount_words(amount, target) if number.place == "outside" else ""
    return TrackReading(gate.number, float(gate.along_ft), number.value, number.uncertainty, number.place, said)


def _obstacle(row: ObstacleSpot, pattern: Pattern, shown: LaidCircuit, unit: str) -> StripObstacle:
    """Return where an obstacle stands along the way, and how far over it the way ran, with its uncertainty."""
    along = pattern.gates[-1].along_ft - row.before_ft
    factor = float(convert(1, "ft", unit))
    high = round(row.height_ft * factor)
    said = f"{row.name} {plain_number(high)} {unit}"
    told = next((number for key, number in shown.numbers.items() if key.endswith(".height")), None)
    if told is not None:
        places, heights = [point.along for point in shown.points], [point.height for point in shown.points]
        over = round(float(np.interp(along, places, heights)) * factor) - high
        said += f", {plain_number(over)} {unit} over it, ±{plain_number(round(told.uncertainty))}"
    return StripObstacle(float(along), float(high), said)
