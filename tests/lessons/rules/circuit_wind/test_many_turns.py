"""Ten thousand random circuits in random winds: each advised turn, flown again over time, comes out on final.

The integration is a Runge-Kutta of the fourth order over all of them at once (numpy), by the definitions of the knot
and of standard gravity and by the printed assumption of the wind's growth; it shares nothing with the rules.
"""

import math
import random
from dataclasses import dataclass

import numpy as np
import pytest

from lessons.rules.circuit_wind import CannotFly, CircuitAir, TurnInWind, hold_course
from lessons.rules.circuit_wind.turn import Turn, compare_turns
from tests.lessons.rules.circuit_wind.flying import FT_S, G

SHARES, TURNS, CLOSE_FT = 4, 2_500, 30
STEP_S, LONGEST_S = 0.2, 600
Points = np.ndarray


@dataclass(frozen=True)
class Case:
    """A turn of a random circuit: airspeeds and heights at both ends, the wind at the ground, and what is advised."""

    speeds: tuple[float, float]
    heights: tuple[float, float]
    wind: CircuitAir
    turn: Turn
    advised: TurnInWind
    noses: tuple[float, float]


def random_case(chance: random.Random) -> Case | None:
    """Return a turn of a circuit as aeroplanes of a school fly it, or None where the rules refuse it."""
    first, top = chance.uniform(60, 110), chance.uniform(400, 1000)
    speeds, heights = (first, first * chance.uniform(0.78, 1.0)), (top, top * chance.uniform(0.2, 0.9))
    blown, angle = chance.uniform(0, 22), chance.uniform(-math.pi, math.pi)
    wind = CircuitAir(blown * math.cos(angle), blown * math.sin(angle))
    # By the radius of a bank of 15 to 28 degrees on a calm day.
    radius = (first * FT_S) ** 2 / (G * math.tan(math.radians(chance.uniform(15, 28))))
    way = chance.choice([math.pi, math.pi / 2])
    begin = (0.0, 2 * radius) if way == math.pi else (-radius, radius)

    def air(share: float) -> tuple[float, tuple[float, float]]:
        height = heights[0] + (heights[1] - heights[0]) * share
        return speeds[0] + (speeds[1] - speeds[0]) * share, wind.at_height(height)

    turn = Turn(begin, 2 * math.pi - way, way, radius, air)
    try:
        advised = compare_turns(turn)
    except CannotFly:
        return None
    ends = ((0.0, turn.course), (1.0, turn.course + way))
    noses = [hold_course(air(share)[0], course, air(share)[1]).heading for share, course in ends]
    return Case(speeds, heights, wind, turn, advised, (noses[0], noses[1]))


def fly(cases: list[Case]) -> tuple[Points, Points, Points]:
    """Return x and y (feet) and the seconds at which the nose of each is where the turn ends."""
    speed, height, nose_range = (np.array([getattr(row, name) for row in cases]).T for name in
                                 ("speeds", "heights", "noses"))  # fmt: skip
    wind = np.array([(row.wind.along_kt, row.wind.across_kt) for row in cases]).T
    banks = np.array([(row.advised.advised_first_deg, row.advised.advised_last_deg) for row in cases]).T

    def between(ends: Points, share: Points) -> Points:
        return ends[0] + (ends[1] - ends[0]) * share

    def slopes(state: Points) -> Points:
        share = np.clip((state[2] - nose_range[0]) / (nose_range[1] - nose_range[0]), 0, 1)
        airspeed, blows = between(speed, share), 1 + 0.5 * (between(height, share) / 1000) ** 0.6
        turns = G * np.tan(np.radians(between(banks, share))) / (airspeed * FT_S)
        x, y = airspeed * np.cos(state[2]) + wind[0] * blows, airspeed * np.sin(state[2]) + wind[1] * blows
        return np.array([x * FT_S, y * FT_S, turns])

    state = np.array([(*row.advised.advised_path[0], row.noses[0]) for row in cases]).T
    ended, seconds = np.full_like(state, np.nan), np.full(len(cases), np.nan)
    for step in range(int(LONGEST_S / STEP_S)):
        one = slopes(state)
        two = slopes(state + one * STEP_S / 2)
        three = slopes(state + two * STEP_S / 2)
        after = state + (one + 2 * two + 2 * three + slopes(state + three * STEP_S)) * STEP_S / 6
        here = np.isnan(seconds) & (after[2] >= nose_range[1])
        part = (nose_range[1] - state[2]) / (after[2] - state[2])
        ended = np.where(here, state + (after - state) * part, ended)
        seconds = np.where(here, (step + part) * STEP_S, seconds)
        if not np.isnan(seconds).any():
            break
        state = after
    return ended[0], ended[1], seconds


@pytest.mark.parametrize("share", range(SHARES))
def test_ten_thousand_advised_turns_come_out_on_final(share: int) -> None:
    chance = random.Random(20_261_129 + share)
    drawn = [random_case(chance) for _ in range(TURNS)]
    cases = [row for row in drawn if row]
    # Most of these winds can be flown; those that cannot are told apart by a sentence.
    assert len(cases) > 0.9 * TURNS
    while len(cases) < TURNS:
        cases += [row] if (row := random_case(chance)) else []
    x, y, seconds = fly(cases)
    assert np.isfinite([x, y, seconds]).all()
    # Where on final a corner comes out is settled by the leg before it; a half circle comes out at its end.
    whole = np.array([not row.turn.is_corner for row in cases])
    assert np.abs(y).max() < CLOSE_FT
    assert np.abs(x[whole]).max() < CLOSE_FT
    assert np.abs(seconds - [row.advised.seconds for row in cases]).max() < 0.5
    numbers = [(row.advised.past_final_ft, row.advised.farther_out_ft, *row.advised.round_banks_deg) for row in cases]
    assert np.isfinite(numbers).all()
