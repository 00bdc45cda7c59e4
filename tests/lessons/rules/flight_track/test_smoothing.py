"""The smoother on motions whose truth is known in closed form."""

import math

import numpy as np
import pytest

from lessons.rules.flight_track.smoothing import smooth, usable_fixes
from lessons.rules.wind import turn_radius_ft

KNOT, FOOT, GRAVITY = 0.514444, 0.3048, 9.80665


def test_a_straight_line_gives_its_speed() -> None:
    rng, seconds = np.random.default_rng(1), np.arange(0.0, 120.0)
    noisy = np.column_stack([40 * seconds, 0 * seconds]) + rng.standard_normal((120, 2))
    motion = smooth(seconds, noisy, 1.0, 0.5, seconds)
    assert np.abs(motion.speed[10:-10, 0] - 40).max() < 1.0
    assert np.abs(motion.speed[10:-10, 0] - 40).mean() < 0.4
    assert np.abs(motion.place[10:-10, 1]).max() < 2.0


@pytest.mark.parametrize("step", [0.2, 1.0, 4.0])
def test_a_circle_gives_the_bank_of_the_handbook(step: float) -> None:
    """A level turn of 76 kt at 21.4° has a radius of V² / (11.26 tan bank) ft (see lessons/rules/wind.py)."""
    speed, radius = 76 * KNOT, turn_radius_ft(76, 21.4) * FOOT
    seconds = np.arange(0.0, 240.0, step)
    angle = speed / radius * seconds
    grid = np.arange(20.0, 220.0)
    motion = smooth(seconds, radius * np.column_stack([np.cos(angle), np.sin(angle)]), 1.5, 0.5, grid)
    bank = np.degrees(np.arctan(np.hypot(*motion.acceleration.T) / GRAVITY))
    assert np.abs(bank - 21.4).max() < 0.4
    assert np.abs(np.hypot(*motion.speed.T) - speed).max() < 0.3


def test_leaps_and_repeated_seconds_are_not_used() -> None:
    seconds = np.array([0.0, 1, 1, 2, 3, 4, 40, 41])
    east = np.array([0.0, 40, 40, 5000, 120, 160, 9000, 9040])
    assert usable_fixes(seconds, east, 0 * east).tolist() == [0, 1, 4, 5, 6, 7]
    assert math.isclose(seconds[6] - seconds[5], 36)
