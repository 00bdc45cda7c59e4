"""Lay a way that was flown along the target's way, so that circuits lie over each other: heights, speeds, bank.

Out of the smoothed way that is kept of each circuit, a point every two seconds in whole feet. Pure.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lessons.rules.circuit_wind.air import bank_for_round_path, growth_factor
from lessons.rules.flight_track.flight import FOOT, GRAVITY
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.flight_track.place import Floats
from lessons.rules.flight_track.setting import KNOT, density_ratio
from lessons.rules.pattern import Shape, Track

# Over so many points (eight seconds) a curve of the third degree is laid: whole feet would make the bank tremble, and
# a parabola would cut the corner of a turn.
FITTED_POINTS, DEGREE = 5, 3
STEP_FT, RUN_ON_FT, LOOK_AHEAD_FT = 25.0, 1500.0, 2500.0
SLOWEST_MS = 5.0


@dataclass(frozen=True)
class AlongPoint:
    """Where and how it flew, at a distance along the target's way: feet, knots, degrees.

    airspeed, bank, bank_asked: None where no wind is known. bank_asked: what the target's round path over the ground
    asks for at this ground speed, None outside a turn that has a radius.
    """

    along: float
    height: float
    ground_speed: float
    airspeed: float | None
    bank: float | None
    bank_asked: float | None


def lay_along(
    way: Sequence[Point], track: Track, wind_ms: tuple[float, float] | None, elevation_ft: float
) -> list[AlongPoint]:
    """Return the points of a way in the order flown; wind_ms: how the air moves at the field, along and across."""
    if len(way) < FITTED_POINTS:
        return []
    rows = np.array(way, dtype=float)
    places = _places(rows[:, :2], track)
    seconds, height = rows[:, 3], rows[:, 2]
    vx, ax = _fitted(seconds, rows[:, 0] * FOOT)
    vy, ay = _fitted(seconds, rows[:, 1] * FOOT)
    found = []
    for k, along in enumerate(places):
        ground = math.hypot(vx[k], vy[k])
        airspeed = bank = asked = None
        if wind_ms is not None:
            factor = growth_factor(float(height[k]))
            through = vx[k] - wind_ms[0] * factor, vy[k] - wind_ms[1] * factor
            true = math.hypot(*through)
            thin = math.sqrt(density_ratio(min(max((height[k] + elevation_ft) * FOOT, -1000.0), 11_000.0)))
            airspeed = true * thin / KNOT
            # Acceleration is the same in the moving air; only its part across the way through the air is a bank.
            sideways = (through[0] * ay[k] - through[1] * ax[k]) / max(true, SLOWEST_MS)
            bank = math.degrees(math.atan2(sideways, GRAVITY))
            asked = _bank_asked(float(along), track, ground / KNOT, _drift((vx[k], vy[k]), through))
        found.append(AlongPoint(float(along), float(height[k]), ground / KNOT, airspeed, bank, asked))
    return _between_the_ends(found)


def _between_the_ends(points: Sequence[AlongPoint]) -> list[AlongPoint]:
    """Leave out what lies before the target's way begins, where every point would have the same distance."""
    first = next((k for k, row in enumerate(points) if row.along > 0), len(points))
    return list(points[max(first - 1, 0) :])


def _places(points: Floats, track: Track) -> Floats:
    """Return the distance along the target of the place on it that lies nearest, never going back."""
    along, line = _target_line(track)
    ahead = int(LOOK_AHEAD_FT / STEP_FT)
    found, at = np.empty(len(points)), 0
    for k, (x, y) in enumerate(points):
        near = np.hypot(line[at : at + ahead, 0] - x, line[at : at + ahead, 1] - y)
        at += int(np.argmin(near))
        found[k] = along[at]
    return found


# A page lays a hundred circuits along the same few targets.
@lru_cache(maxsize=32)
def _target_line(track: Track) -> tuple[Floats, Floats]:
    along = np.arange(0.0, track.length + RUN_ON_FT, STEP_FT)
    line = np.array([track.position_at(min(row, track.length)) for row in along])
    line[:, 0] += np.maximum(0.0, along - track.length)
    return along, line


def _fitted(seconds: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return speed and acceleration at each point, of the curve laid through the points round it."""
    half = FITTED_POINTS // 2
    # A way has its points at even steps, so one matrix fits the curve of every window.
    step = float(np.median(np.diff(seconds)))
    fit = np.linalg.pinv(np.vander(np.arange(-half, half + 1) * step, DEGREE + 1))
    curves = np.lib.stride_tricks.sliding_window_view(values, FITTED_POINTS) @ fit.T
    # At both ends the curve of the window that lies nearest.
    window = np.clip(np.arange(len(values)) - half, 0, len(curves) - 1)
    cubic, square, line, _ = curves[window].T
    away = (np.arange(len(values)) - half - window) * step
    return 3 * cubic * away**2 + 2 * square * away + line, 6 * cubic * away + 2 * square


def _drift(over_ground: tuple[float, float], through_air: tuple[float, float]) -> float:
    """Return the angle between the nose and the way over the ground, degrees."""
    angle = math.atan2(over_ground[1], over_ground[0]) - math.atan2(through_air[1], through_air[0])
    return math.degrees((angle + math.pi) % (2 * math.pi) - math.pi)


def _bank_asked(along: float, track: Track, ground_kt: float, drift: float) -> float | None:
    """Only a round path has a radius: of four corners nobody says how wide each is turned."""
    if track.shape is not Shape.OVAL or abs(drift) > 60:
        return None
    out, across, back, end = track.corners
    if not (out <= along <= across or back <= along <= end):
        return None
    return bank_for_round_path(ground_kt, track.width / 2, drift)
