"""Measure a flight: its circuits over all runways of a field, each with its ending and the readings at its gates."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from lessons.rules.flight_track.flight import FOOT, Fixes, Flight, along_runway, over_ground, smooth_fixes
from lessons.rules.flight_track.gates import Way, find_gates, find_way
from lessons.rules.flight_track.passages import Passage, Passed, find_passages, ground_line
from lessons.rules.flight_track.place import Floats, RunwaySite
from lessons.rules.flight_track.setting import KNOT, TrackSetting
from lessons.rules.flight_track.uncertainty import HOLE_S, Receiver
from lessons.rules.pattern import Leg

BACK_SHARE, BACK_SECONDS = 0.5, 15
# Longer, and it left for another field or for air work: its ending is told and its gates are not.
LONGEST_CIRCUIT_S = 12 * 60
NEVER_THERE, HOLE, NO_WIND, NO_GROUND = "never there", "no position there", "no wind", "no ground contact"
READ_QUANTITIES = ("height", "speed", "ground_speed", "bank", "distance")


@dataclass(frozen=True)
class Reading:
    """What was read of one quantity at a gate, in ft, kt or degrees; value None where it cannot be told, and why."""

    gate: str
    quantity: str
    value: float | None
    error: float = 0.0
    why_not: str = ""


@dataclass(frozen=True)
class MeasuredCircuit:
    """One circuit: seconds since 1970, the key of the runway, how it ended, its readings, and its way over the ground.

    sure: 0.5 to 1, of the ending; way: feet along and across from the touchdown point, with seconds and heights (ft).
    """

    begins: float
    ends: float
    runway: int
    ended: str
    sure: float
    readings: tuple[Reading, ...]
    way: tuple[tuple[float, float, float, float], ...]
    orbits: int = 0
    off_pattern: bool = False


@dataclass(frozen=True)
class MeasuredFlight:
    """The circuits in the order flown, and when the first passage began and the last one ended; None without any."""

    circuits: tuple[MeasuredCircuit, ...]
    begins: float | None
    ends: float | None


@dataclass(frozen=True)
class _Seen:
    """A passage with the flight along its runway."""

    passage: Passage
    runway: RunwaySite
    flight: Flight


def measure_flight(fixes: Fixes, runways: Sequence[RunwaySite], setting: TrackSetting) -> MeasuredFlight:
    """Measure a track at a field. Nothing is found where the fixes are too far apart, or where none is near."""
    step = float(np.median(np.diff(fixes.seconds))) if len(fixes.seconds) > 1 else math.inf
    receiver = Receiver(fixes.by_pressure, step)
    if not receiver.measures or not runways:
        return MeasuredFlight((), None, None)
    seen = _all_passages(fixes, runways, setting)
    circuits = [
        circuit
        for before, after in pairwise(seen)
        if (circuit := _circuit(before, after, setting, receiver)) is not None
    ]
    seconds = [row.flight.seconds for row in seen]
    begins = float(seconds[0][seen[0].passage.first]) if seen else None
    ends = float(seconds[-1][seen[-1].passage.last]) if seen else None
    return MeasuredFlight(tuple(circuits), begins, ends)


def _all_passages(fixes: Fixes, runways: Sequence[RunwaySite], setting: TrackSetting) -> list[_Seen]:
    """Return the passages of all runways in the order flown, with heights over the ground between them all."""
    local = smooth_fixes(fixes, runways[0])
    found = list[tuple[RunwaySite, Flight, list[Passage]]]()
    for runway in runways:
        flight = along_runway(local, runway)
        found.append((runway, flight, find_passages(flight, runway, setting)))
    every = [row for _, _, passages in found for row in passages]
    ground = ground_line(found[0][1], every)
    seen = list[_Seen]()
    for runway, flight, passages in found:
        over = over_ground(flight, ground, runway, setting) if passages else flight
        seen += [_Seen(row, runway, over) for row in passages]
    return _one_at_a_time(sorted(seen, key=lambda row: row.passage.turn))


def _one_at_a_time(seen: list[_Seen]) -> list[_Seen]:
    """Of passages over two runways at one time leave the one that lies nearer to its runway's line."""
    kept = list[_Seen]()
    for row in seen:
        if kept and row.passage.first <= kept[-1].passage.last and row.runway != kept[-1].runway:
            kept[-1] = min(kept[-1], row, key=_off_line)
        else:
            kept.append(row)
    return kept


def _off_line(row: _Seen) -> float:
    piece = slice(row.passage.first, row.passage.last + 1)
    return float(np.median(np.abs(row.flight.y[piece])))


def _circuit(before: _Seen, after: _Seen, setting: TrackSetting, receiver: Receiver) -> MeasuredCircuit | None:
    """Return the circuit between two passages; None where nothing of it runs back along the runway."""
    if before.passage.ended is Passed.FULL_STOP or after.passage.ended is Passed.START:
        return None
    flight, lift_off = after.flight, before.passage.lift_off
    begins = int(before.passage.turn if lift_off is None else lift_off)
    ends = after.passage.turn
    if ends - begins < BACK_SECONDS or _back_seconds(flight, begins, ends, setting) < BACK_SECONDS:
        return None
    way = find_way(flight, begins, ends)
    off_pattern = ends - begins > LONGEST_CIRCUIT_S or way is None
    readings: tuple[Reading, ...] = ()
    if way is not None and not off_pattern:
        took_off_here = before.runway.key == after.runway.key
        readings = _readings(flight, way, setting, receiver, lift_off if took_off_here else None, after.passage)
        readings = readings if took_off_here else _way_in_only(readings, setting)
    return MeasuredCircuit(
        float(flight.seconds[begins]),
        float(flight.seconds[ends]),
        after.runway.key,
        after.passage.ended.value,
        round(after.passage.sure, 2),
        readings,
        _ground_way(flight, begins, ends),
        way.orbits if way else 0,
        off_pattern,
    )


def _back_seconds(flight: Flight, begins: int, ends: int, setting: TrackSetting) -> int:
    return int((flight.vx[begins:ends] < -BACK_SHARE * setting.stall).sum())


def _way_in_only(readings: tuple[Reading, ...], setting: TrackSetting) -> tuple[Reading, ...]:
    """Of a circuit that began on another runway only final is comparable with the target."""
    final = {gate.station.code for gate in setting.gates if gate.station.leg is Leg.FINAL}
    return tuple(
        row if row.gate in final else Reading(row.gate, row.quantity, None, why_not=NEVER_THERE) for row in readings
    )


def _readings(
    flight: Flight, way: Way, setting: TrackSetting, receiver: Receiver, lift_off: float | None, passage: Passage
) -> tuple[Reading, ...]:
    places = find_gates(flight, way, setting, lift_off, passage.touchdown)
    found = list[Reading]()
    for number, gate in enumerate(setting.gates):
        code, touchdown = gate.station.code, number == len(setting.gates) - 1
        place = places.get(code)
        asked = [row for row in READ_QUANTITIES if row in gate.quantities or (row == "ground_speed" and not touchdown)]
        for quantity in asked:
            on_final = gate.station.leg is Leg.FINAL
            if reason := _why_not(flight, place, quantity, setting, first=number == 0):
                found.append(Reading(code, quantity, None, why_not=reason))
                continue
            assert place is not None
            value = _value(flight, place, quantity, past=touchdown)
            error = receiver.error(quantity, on_final=on_final, touchdown=touchdown)
            found.append(Reading(code, quantity, value, error))
    return tuple(found)


def _why_not(flight: Flight, place: float | None, quantity: str, setting: TrackSetting, *, first: bool) -> str:
    if place is None:
        return NEVER_THERE
    if flight.gap[int(place)] > HOLE_S:
        return HOLE
    if setting.wind is None and quantity in ("speed", "bank"):
        return NO_WIND
    if quantity == "height" and not flight.grounded:
        return NO_GROUND
    # Where the wheels leave the ground a telephone tells by seconds, and the speed changes meanwhile.
    return "the lift-off is not found so exactly" if first and not flight.by_pressure and quantity == "speed" else ""


def _value(flight: Flight, place: float, quantity: str, *, past: bool) -> float:
    """Return a reading at a place between two seconds; past: distance past the touchdown point and not before it."""
    match quantity:
        case "height":
            return round(_between(flight.height, place) / FOOT, 1)
        case "speed":
            return round(_between(flight.airspeed, place) / KNOT, 1)
        case "ground_speed":
            return round(_between(flight.ground_speed, place) / KNOT, 1)
        case "bank":
            return round(math.degrees(abs(_between(flight.bank, place))), 1)
    along = _between(flight.x, place) / FOOT
    return round(along if past else -along, 0)


def _between(values: Floats, place: float) -> float:
    low = int(place)
    high = min(low + 1, len(values) - 1)
    return float(values[low] + (place - low) * (values[high] - values[low]))


def _ground_way(flight: Flight, begins: int, ends: int) -> tuple[tuple[float, float, float, float], ...]:
    """Return the way every two seconds: feet along, feet across, feet high, seconds since the circuit began."""
    return tuple(
        (
            round(float(flight.x[k]) / FOOT),
            round(float(flight.y[k]) / FOOT),
            round(float(flight.height[k]) / FOOT),
            round(float(flight.seconds[k] - flight.seconds[begins])),
        )
        for k in range(begins, ends + 1, 2)
    )
