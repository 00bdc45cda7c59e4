"""Find where the wheels met the ground and where they left it, as places in the seconds of a flight."""

import numpy as np
from numpy.typing import NDArray

from lessons.rules.flight_track.flight import Flight

LOOK_BACK_S, KNOT_STEP_S, FIT_BEFORE_S, ROLL_S = 24, 0.5, 12, 4
FEWEST_POINTS = 6
HEIGHT_SIGMA, SPEED_SIGMA = 1.6, 0.35
OFF_THE_GROUND = 1.5


def find_touchdown(flight: Flight, slow: int, *, full_stop: bool) -> float:
    """Return the knot of two broken lines: height coming down to the ground, ground speed falling faster after it.

    slow: where it is slowest (touch-and-go), or well below the stall (full stop).
    """
    ground = float(np.median(flight.raw_height[max(0, slow - 2) : slow + 3]))
    end = min(len(flight.seconds), slow + (ROLL_S if full_stop else 1))
    best, where = np.inf, float(slow)
    for knot in np.arange(slow - LOOK_BACK_S, slow + 0.1, KNOT_STEP_S):
        seconds = np.arange(max(0, int(knot - FIT_BEFORE_S)), end)
        if len(seconds) < FEWEST_POINTS:
            continue
        cost = _misfit(flight, seconds, float(knot), ground) / len(seconds)
        if cost < best:
            best, where = cost, float(knot)
    return max(0.0, where)


def _misfit(flight: Flight, seconds: NDArray[np.int64], knot: float, ground: float) -> float:
    before, after, ones = np.maximum(0, knot - seconds), np.maximum(0, seconds - knot), np.ones(len(seconds))
    rows = (
        (flight.raw_height[seconds] - ground, HEIGHT_SIGMA, np.column_stack([before, before**2, ones])),
        (flight.ground_speed[seconds], SPEED_SIGMA, np.column_stack([ones, seconds - knot, after])),
    )
    total = 0.0
    for values, sigma, terms in rows:
        fitted, *_ = np.linalg.lstsq(terms, values, rcond=None)
        total += float(((values - terms @ fitted) ** 2).sum()) / sigma**2
    return total


def find_lift_off(flight: Flight, begins: int, ground: float) -> float:
    """Return the first second clearly off the ground; by a telephone's heights it is good for the time alone."""
    up = np.nonzero(flight.height[begins:] - ground >= OFF_THE_GROUND)[0]
    return float(begins + up[0]) if len(up) else float(len(flight.seconds) - 1)
