"""Find where each gate of a circuit was passed, as places in the seconds of a flight."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lessons.rules.flight_track.flight import FOOT, Flight
from lessons.rules.flight_track.place import Floats
from lessons.rules.flight_track.setting import TrackSetting
from lessons.rules.pattern import Leg, Shape, Station, Track

DOWNWIND_COSINE = -0.8
LEVEL_BANK, LEVEL_COURSE = math.radians(6), math.radians(7)
LEVEL_FOR_S, SMOOTHED_EARLY_S = 3, 0.5
FINAL_LASTS_S = 120
FULL_TURN = 2 * math.pi
# The circuit is flown round once; what turned half a circle more or less than that had an orbit in it.
ORBIT_TURN = math.pi


@dataclass(frozen=True)
class Way:
    """The way of one circuit in a flight: from `begins` to `ends`, and its first and last second on downwind.

    course: radians to the circuit's side from the takeoff, unwound, so that downwind is at pi and final at 2 pi.
    """

    begins: int
    ends: int
    downwind_first: int
    downwind_last: int
    course: Floats
    orbits: int


def find_way(flight: Flight, begins: int, ends: int) -> Way | None:
    """Return the way of a circuit; None where none of it runs back along the runway."""
    turned = np.unwrap(np.arctan2(flight.vy[begins : ends + 1], flight.vx[begins : ends + 1]))
    back = np.nonzero(np.cos(turned[: ends - begins]) < DOWNWIND_COSINE)[0]
    if not len(back):
        return None
    orbits = round((turned[-1] - turned[0] - FULL_TURN) / FULL_TURN)
    # Anchored on downwind, where the way in begins: an orbit before it adds a turn that the gates must not see.
    turned = turned - FULL_TURN * round((turned[back[-1]] - math.pi) / FULL_TURN)
    return Way(begins, ends, begins + int(back[0]), begins + int(back[-1]), turned, orbits)


def find_gates(
    flight: Flight, way: Way, setting: TrackSetting, lift_off: float | None, touchdown: float | None
) -> dict[str, float | None]:
    """Return where each gate was passed by its code; None where the flight never came there."""
    track, stations = setting.track, [gate.station for gate in setting.gates]
    if track is None:
        return {}
    found: dict[str, float | None] = {}
    for station in stations:
        if station is stations[0]:
            found[station.code] = lift_off
        elif station is stations[-1]:
            found[station.code] = touchdown
        else:
            found[station.code] = _passed(flight, way, station, track, _first_of_final(stations))
    return _without_orbits(found, way, stations)


def _first_of_final(stations: list[Station]) -> Station | None:
    return next((row for row in stations if row.leg is Leg.FINAL), None)


def _without_orbits(found: Mapping[str, float | None], way: Way, stations: list[Station]) -> dict[str, float | None]:
    """Leave out the gates between the takeoff and final where an orbit was flown: nobody knows at which pass."""
    if not way.orbits:
        return dict(found)
    sure = {row.code for row in stations if row.leg in (Leg.UPWIND, Leg.FINAL)}
    return {code: place if code in sure else None for code, place in found.items()}


def _passed(flight: Flight, way: Way, station: Station, track: Track, final: Station | None) -> float | None:
    x, y = (value * FOOT for value in track.position_at(station.along_ft))
    first, last = way.downwind_first, way.downwind_last
    match station.leg:
        case Leg.UPWIND:
            return _crossing(flight.x, x, way.begins, first, rising=True)
        case Leg.DOWNWIND:
            return _crossing(flight.x, x, max(way.begins, first - 10), min(way.ends, last + 15), rising=False)
        case Leg.CROSSWIND | Leg.BASE:
            return _across(flight, way, station, track, y)
    if station == final:
        return _wings_level(flight, way)
    return _crossing(flight.x, x, max(last, way.ends - FINAL_LASTS_S), way.ends, rising=True)


def _across(flight: Flight, way: Way, station: Station, track: Track, y: float) -> float | None:
    out = station.leg is Leg.CROSSWIND
    if track.shape is Shape.SQUARE:
        if out:
            return _crossing(flight.y, y, way.begins, min(way.ends, way.downwind_first + 20), rising=True)
        return _crossing(flight.y, y, max(way.begins, way.downwind_last - 10), way.ends, rising=False)
    begins, out_ends, back_ends, ends = track.corners
    if out:
        share = (station.along_ft - begins) / (out_ends - begins)
        return _crossing_course(way, math.pi * share, way.begins, way.downwind_first)
    share = (station.along_ft - back_ends) / (ends - back_ends)
    return _crossing_course(way, math.pi * (1 + share), way.downwind_last, way.ends)


def _crossing_course(way: Way, course: float, first: int, last: int) -> float | None:
    place = _crossing(way.course, course, first - way.begins, last - way.begins, rising=True)
    return None if place is None else place + way.begins


def _crossing(values: Floats, level: float, first: int, last: int, *, rising: bool) -> float | None:
    """Return the first place between two where values pass a level, between the seconds."""
    off = values[first : last + 1] - level
    passes = (off[:-1] < 0) & (off[1:] >= 0) if rising else (off[:-1] > 0) & (off[1:] <= 0)
    places = np.nonzero(passes)[0]
    if not len(places):
        return None
    at = int(places[0])
    return first + at + float(off[at] / (off[at] - off[at + 1]))


def _wings_level(flight: Flight, way: Way) -> float | None:
    """Return where it is established on final: wings level along the runway, and so for some seconds."""
    first = way.downwind_last
    course = way.course[first - way.begins : way.ends - way.begins]
    off = np.abs((course + math.pi) % FULL_TURN - math.pi)
    level = (np.abs(flight.bank[first : way.ends]) < LEVEL_BANK) & (off < LEVEL_COURSE)
    run = 0
    for place, good in enumerate(level):
        run = run + 1 if good else 0
        if run == LEVEL_FOR_S:
            return max(float(first), first + place - LEVEL_FOR_S + 1 - SMOOTHED_EARLY_S)
    return None
