"""Smooth a track: position, speed and acceleration at whole seconds out of uneven, noisy fixes.

Rauch-Tung-Striebel smoother with white jerk (Rauch, Tung, Striebel 1965, from memory). One gain serves all axes of a
call, so they are smoothed together.
"""

import math
from dataclasses import dataclass

import numpy as np

from lessons.rules.flight_track.place import Floats

MIN_STEP_S = 0.05
FASTEST_MS, LEAP_M, BELIEVED_AFTER_S = 120.0, 60.0, 30.0
FIRST_SPEED_SIGMA, FIRST_ACCELERATION_VARIANCE = 40.0, 4.0
# Of one fix, and how fast the acceleration changes (m²/s⁵): measured on the simulator of the tests.
LEVEL_SIGMA, LEVEL_JERK = 1.5, 0.5
SATELLITE_SIGMA, PRESSURE_SIGMA, HEIGHT_JERK = 2.0, 1.0, 0.08


@dataclass(frozen=True)
class Motion:
    """Position, speed and acceleration, a row a second and a column an axis."""

    place: Floats
    speed: Floats
    acceleration: Floats


def usable_fixes(seconds: Floats, east: Floats, north: Floats) -> Floats:
    """Return which fixes to use, by their place: in order of time, without leaps that no aeroplane makes."""
    keep, last = [0], 0
    for k in range(1, len(seconds)):
        step = seconds[k] - seconds[last]
        if step <= MIN_STEP_S:
            continue
        moved = math.hypot(east[k] - east[last], north[k] - north[last])
        # After half a minute the new place is believed.
        if moved <= FASTEST_MS * step + LEAP_M or step > BELIEVED_AFTER_S:
            keep.append(k)
            last = k
    return np.array(keep)


def smooth(seconds: Floats, values: Floats, sigma: float, jerk: float, grid: Floats) -> Motion:
    """Return the motion on `grid`; values: a row a fix, a column an axis; sigma: of one fix, in their unit."""
    times = np.round(seconds, 2)
    every = np.union1d(times, grid)
    fix_at = np.full(len(every), -1)
    fix_at[np.searchsorted(every, times)] = np.arange(len(times))
    forward = _filter(every, fix_at, values, sigma, jerk)
    states = _smooth_back(*forward)[np.searchsorted(every, grid)]
    return Motion(states[:, 0], states[:, 1], states[:, 2])


def _filter(
    every: Floats, fix_at: Floats, values: Floats, sigma: float, jerk: float
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    count, axes = len(every), values.shape[1]
    state, spread = np.zeros((3, axes)), np.diag([sigma**2, FIRST_SPEED_SIGMA**2, FIRST_ACCELERATION_VARIANCE])
    state[0] = values[0]
    states, predicted = np.empty((count, 3, axes)), np.empty((count, 3, axes))
    spreads, predicted_spreads, moves = (np.empty((count, 3, 3)) for _ in range(3))
    known: dict[float, tuple[Floats, Floats]] = {}
    for k in range(count):
        step = round(float(every[k] - every[k - 1]), 2) if k else 0.0
        if step not in known:
            known[step] = _move(step, jerk)
        move, noise = known[step]
        state, spread = move @ state, move @ spread @ move.T + noise
        predicted[k], predicted_spreads[k], moves[k] = state, spread, move
        if fix_at[k] >= 0:
            gain = spread[:, :1] / (spread[0, 0] + sigma**2)
            state = state + gain @ (values[fix_at[k]][None, :] - state[:1])
            spread = spread - gain @ spread[:1]
        states[k], spreads[k] = state, spread
    return states, spreads, predicted, predicted_spreads, moves


def _move(step: float, jerk: float) -> tuple[Floats, Floats]:
    move = np.array([[1, step, step**2 / 2], [0, 1, step], [0, 0, 1]])
    noise = jerk * np.array(
        [
            [step**5 / 20, step**4 / 8, step**3 / 6],
            [step**4 / 8, step**3 / 3, step**2 / 2],
            [step**3 / 6, step**2 / 2, step],
        ]
    )
    return move, noise


def _smooth_back(
    states: Floats, spreads: Floats, predicted: Floats, predicted_spreads: Floats, moves: Floats
) -> Floats:
    inverse = np.linalg.pinv(predicted_spreads[1:], hermitian=True)
    gains = np.einsum("nij,nkj->nik", spreads[:-1], moves[1:]) @ inverse
    for k in range(len(states) - 2, -1, -1):
        states[k] += gains[k] @ (states[k + 1] - predicted[k + 1])
    return states
