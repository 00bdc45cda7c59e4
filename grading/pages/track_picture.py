"""This module draws one circuit of a flight track: the way flown from above over the target, and its heights."""

import math
from collections.abc import Mapping, Sequence
from itertools import accumulate, pairwise

import numpy as np

from grading.models import FlightTrack
from grading.pages.flown_pictures import Drawn, draw_twice, part_of_circuit, target_points
from grading.pages.track_strips import true_heading
from grading.reading.flight_tracks import KeptCircuit
from grading.reading.track_approaches import Approach
from grading.rules.flown import TOUCHDOWN, GatePlace, Pattern
from grading.rules.track_judgement import TrackNumber
from lessons.published_content import gates_in_order
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.pattern import Leg, Shape, Station, lay_out
from lessons.rules.units import convert
from school import marks
from school.marks import PlanGate, PlanGround, PlanWind, ProfileGate
from school.models import Runway


def draw_track(
    track: FlightTrack,
    circuit: KeptCircuit,
    runway: Runway | None,
    way: Sequence[Point],
    pattern: Pattern,
    numbers: Mapping[str, TrackNumber],
    earlier: Sequence[Sequence[Point]] = (),
) -> Drawn | None:
    """Draw the plan with the ways before it, thin; None where the gates make no circuit to draw it over."""
    points = target_points(*_stations(track.gate_set_id, pattern))
    # What left the circuit is somewhere else: drawn to its scale, the circuit would be a dot.
    if not points or runway is None or circuit.off_pattern:
        return None
    gates = [
        PlanGate(gate.number, *spot, gate_place(gate.code, numbers))
        for gate, spot in _places(track.gate_set_id, pattern)
        if gate.code != TOUCHDOWN
    ]
    ground = _ground(points, runway)
    label = f"Circuit {circuit.place} of the track from above: the way flown, solid, over the target, dotted"
    flown, *before = ([(x, y) for x, y, _, _ in line] for line in (way, *earlier))
    wind, landed = _wind(track, runway), _touchdown(circuit, numbers)
    touchdowns = [landed] if landed else []
    return draw_twice(
        lambda narrow: marks.flown_plan(
            ground, gates, label, touchdowns=touchdowns, wind=wind, narrow=narrow, way=flown, earlier=before
        )
    )


def draw_approaches(rows: Sequence[Approach], runway: Runway, pattern: Pattern, label: str) -> Drawn | None:
    """Draw the ways of many approaches from above over the target; each gate says in how many it was outside."""
    gate_set = rows[0].track.gate_set_id
    points = target_points(*_stations(gate_set, pattern))
    if not points:
        return None
    shown = {gate.code for gate in part_of_circuit(pattern, out=False)} - {TOUCHDOWN}
    gates = [
        PlanGate(gate.number, *spot, *_met_in_all(gate.code, rows))
        for gate, spot in _places(gate_set, pattern)
        if gate.code in shown
    ]
    ground = _ground(points, runway)
    ways = [_way_in(row.way) for row in rows]
    landed = [spot for row in rows if (spot := _touchdown(row.circuit, row.numbers))]
    return draw_twice(
        lambda narrow: marks.flown_plan(ground, gates, label, touchdowns=landed, narrow=narrow, earlier=ways)
    )


def _met_in_all(code: str, rows: Sequence[Approach]) -> tuple[str, str]:
    """Return how a gate was met in all approaches, and in how many it was outside for certain: '3 outside'."""
    places = [place for row in rows if (place := gate_place(code, row.numbers)) != "not_measured"]
    if not places:
        return "not_measured", ""
    worst = next(place for place in ("outside", "unsure", "inside") if place in places)
    return worst, f"{places.count('outside')} outside" if worst == "outside" else ""


def _way_in(way: Sequence[Point]) -> list[tuple[float, float]]:
    """Return the way from where it was abeam the point that is aimed at."""
    half = max(abs(y) for _, y, _, _ in way) / 2
    abeam = [k for k, (x, y, _, _) in enumerate(way) if abs(y) >= half and x >= 0]
    return [(x, y) for x, y, _, _ in way[abeam[-1] if abeam else 0 :]]


def _ground(points: Sequence[tuple[float, float]], runway: Runway) -> PlanGround:
    ends = -runway.touchdown_ft, runway.length_ft - runway.touchdown_ft
    return PlanGround(points, ends, runway.designator, runway.circuit == Runway.CircuitSide.LEFT)


def draw_heights(
    track: FlightTrack,
    circuit: KeptCircuit,
    way: Sequence[Point],
    pattern: Pattern,
    numbers: Mapping[str, TrackNumber],
) -> Drawn | None:
    """Draw the heights along the way flown; None where no height could be told."""
    told = next((row for key, row in numbers.items() if key.endswith(".height")), None)
    asked = {row.gate: row for row in pattern.targets if row.quantity == "height"}
    if told is None or circuit.off_pattern:
        return None
    unit = next(iter(asked.values())).unit
    factor = float(convert(1, "ft", unit))
    points = [(along * factor, height * factor) for along, height in _along_way(way)]
    gates = [
        ProfileGate(gate.number, points[at][0], row.value - row.under, row.value + row.over)
        for gate, at in _passed(way, _places(track.gate_set_id, pattern))
        if (row := asked.get(gate.code))
    ]
    label = f"Heights of circuit {circuit.place} of the track along the way flown, with their uncertainty"
    return draw_twice(
        lambda narrow: marks.track_profile(points, told.uncertainty, gates, (unit, unit), label, narrow=narrow)
    )


def _stations(gate_set: int, pattern: Pattern) -> tuple[tuple[Station, ...], Shape]:
    stations = tuple(Station(gate.code, Leg(gate.leg), gate.along_ft) for gate in pattern.gates)
    return stations, gates_in_order(gate_set)[0]


def _places(gate_set: int, pattern: Pattern) -> list[tuple[GatePlace, tuple[float, float]]]:
    """Return the place of each gate over the ground, in feet from the aiming point; none where they make no circuit."""
    stations, shape = _stations(gate_set, pattern)
    if not target_points(stations, shape):
        return []
    target = lay_out(stations, shape)
    return [(gate, target.position_at(gate.along_ft)) for gate in pattern.gates]


def _along_way(way: Sequence[Point]) -> list[tuple[float, float]]:
    """Return how far along each point lies, and its height."""
    steps = [math.dist(before[:2], after[:2]) for before, after in pairwise(way)]
    return list(zip(accumulate(steps, initial=0.0), (height for _, _, height, _ in way), strict=True))


def _passed(
    way: Sequence[Point], gates: Sequence[tuple[GatePlace, tuple[float, float]]]
) -> list[tuple[GatePlace, int]]:
    """Return for each gate the point of the way that lies nearest to its place, on the way out, round, or in."""
    half = max(abs(y) for _, y, _, _ in way) / 2
    away = [k for k, (_, y, _, _) in enumerate(way) if abs(y) >= half]
    parts = {Leg.UPWIND.value: range(away[0] + 1), Leg.FINAL.value: range(away[-1], len(way))}
    found = []
    for gate, spot in gates:
        among = parts.get(gate.leg, range(len(way)))
        found.append((gate, int(np.argmin([math.dist(way[k][:2], spot) for k in among])) + among.start))
    return found


def gate_place(code: str, numbers: Mapping[str, TrackNumber]) -> str:
    """Return how a gate was met by the track: "outside" where one of its numbers surely is, "unsure", "inside"."""
    places = {row.place for key, row in numbers.items() if key.partition(".")[0] == code}
    return next((place for place in ("outside", "unsure", "inside") if place in places), "not_measured")


def _touchdown(circuit: KeptCircuit, numbers: Mapping[str, TrackNumber]) -> tuple[float, bool] | None:
    """Return the touchdown in feet past the aiming point, and whether it surely is inside."""
    reading = circuit.reading(TOUCHDOWN, "distance")
    if reading is None or reading.value is None or f"{TOUCHDOWN}.distance" not in numbers:
        return None
    return reading.value, numbers[f"{TOUCHDOWN}.distance"].place == "inside"


def _wind(track: FlightTrack, runway: Runway) -> PlanWind | None:
    if not track.wind_speed_kt or track.wind_from is None:
        return None
    words = [f"Wind {track.wind_from:03d}° true", f"{track.wind_speed_kt} kt"]
    return PlanWind(track.wind_from - true_heading(runway), track.wind_speed_kt, words)
