"""Wind and turns against published answers.

CALC: recomputed with the handbook's own constants, so the arithmetic is certain where the print is from memory.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.rules.wind import (
    Wind,
    WindComponents,
    best_runway,
    load_factor,
    turn_radius_ft,
    turn_rate,
    wind_components,
)

directions = st.integers(0, 360)
winds = st.builds(
    lambda direction, speed, more: Wind(direction, speed, speed + more),
    directions,
    st.integers(0, 80),
    st.integers(0, 40),
)


def test_wind_220_at_30_on_runway_18() -> None:
    """FAA knowledge-test sample, as a training page gives it: headwind 23 kt, crosswind 19 kt (22.98 and 19.28)."""
    found = wind_components(Wind(220, 30), 180)
    assert (round(found.headwind_kt, 2), round(found.crosswind_kt, 2)) == (22.98, 19.28)
    assert found.side == "right"
    assert found.words == "crosswind 19 kt from the right, headwind 23 kt"


@pytest.mark.parametrize(
    ("angle", "share"),
    [(10, 0.174), (20, 0.342), (30, 0.5), (40, 0.643), (45, 0.707), (50, 0.766), (60, 0.866), (70, 0.94), (80, 0.985)],
)
def test_crosswind_share_by_angle(angle: int, share: float) -> None:
    """The sine table to three places (trigonometry); from the right one way, from the left the other."""
    assert wind_components(Wind(angle, 100), 360).crosswind_kt / 100 == pytest.approx(share, abs=0.0005)
    assert wind_components(Wind(360 - angle, 100), 360).crosswind_kt / 100 == pytest.approx(-share, abs=0.0005)


@pytest.mark.parametrize(
    ("direction", "heading", "words"),
    [
        (360, 360, "crosswind 0 kt, headwind 20 kt"),
        (0, 360, "crosswind 0 kt, headwind 20 kt"),
        (180, 360, "crosswind 0 kt, tailwind 20 kt"),
        (90, 360, "crosswind 20 kt from the right, headwind 0 kt"),
        (270, 360, "crosswind 20 kt from the left, headwind 0 kt"),
        (200, 360, "crosswind 7 kt from the left, tailwind 19 kt"),
    ],
)
def test_components_in_words(direction: int, heading: int, words: str) -> None:
    assert wind_components(Wind(direction, 20), heading).words == words


def test_side_is_none_below_half_a_knot() -> None:
    assert (WindComponents(9, 0.4).side, WindComponents(9, -0.4).side) == ("none", "none")
    assert (WindComponents(9, 0.6).side, WindComponents(9, -0.6).side) == ("right", "left")


def test_gusts_have_components_of_their_own() -> None:
    across = Wind(270, 10, 24)
    assert wind_components(across, 180).crosswind_kt == 10
    assert wind_components(across, 180, in_gust=True).crosswind_kt == 24
    assert wind_components(Wind(270, 10), 180, in_gust=True).crosswind_kt == 10


def test_a_variable_wind_has_no_components_and_a_calm_has_none() -> None:
    assert wind_components(Wind(None, 0), 180) == WindComponents(0.0, 0.0)
    for variable in (Wind(None, 5), Wind(None, 0, 8)):
        with pytest.raises(ValueError, match="variable"):
            wind_components(variable, 180)


@given(winds, directions)
def test_components_are_the_legs_of_the_wind(wind: Wind, heading: int) -> None:
    found = wind_components(wind, heading)
    assert math.hypot(found.headwind_kt, found.crosswind_kt) == pytest.approx(wind.speed_kt, abs=1e-6)


@given(winds, st.integers(0, 180))
def test_the_other_end_of_the_runway_has_the_opposite(wind: Wind, heading: int) -> None:
    one, other = wind_components(wind, heading), wind_components(wind, heading + 180)
    assert (other.headwind_kt, other.crosswind_kt) == pytest.approx((-one.headwind_kt, -one.crosswind_kt))


def test_half_the_gust_factor() -> None:
    """70 kt and a gust factor of 15 kt: 77 kt in the Airplane Flying Handbook's example (from memory).

    The gust factor is the gust less the steady wind. 77.5 is exact and kept; the example drops the half.
    """
    exact = 70 + Wind(180, 10, 25).gust_allowance_kt
    assert exact == 77.5
    assert math.floor(exact) == 77


def test_without_gust_nothing_is_added() -> None:
    assert Wind(180, 25).gust_allowance_kt == 0
    assert Wind(180, 25, 25).gust_allowance_kt == 0


# FAA-H-8083-25C, chapter 5: formulas and the answers at 120 and 240 kt from memory, the others CALC.
TURNS = [
    (120, 30, 2215, 5.25),
    (240, 30, 8860, 2.62),
    (65, 20, 1031, 6.11),
    (65, 30, 650, 9.69),
    (80, 30, 984, 7.87),
    (100, 45, 888, 10.91),
]


@pytest.mark.parametrize(("speed", "bank", "radius", "rate"), TURNS)
def test_turns(speed: int, bank: int, radius: int, rate: float) -> None:
    assert turn_radius_ft(speed, bank) == pytest.approx(radius, abs=0.6)
    assert turn_rate(speed, bank) == pytest.approx(rate, abs=0.006)


@given(st.floats(30, 300), st.floats(5, 80))
def test_turns_agree_with_mechanics(speed: float, bank: float) -> None:
    """r = v² / (g tan bank) and rate = g tan bank / v, g = 32.174 ft/s²: the handbook's are within 0.5 %."""
    feet_a_second = speed * 1852 / 0.3048 / 3600
    pull = 32.174 * math.tan(math.radians(bank))
    assert turn_radius_ft(speed, bank) == pytest.approx(feet_a_second**2 / pull, rel=0.005)
    assert turn_rate(speed, bank) == pytest.approx(math.degrees(pull / feet_a_second), rel=0.005)


@pytest.mark.parametrize(
    ("bank", "factor"),
    [(0, 1), (10, 1.015), (30, 1.154), (45, 1.414), (60, 2.0), (70, 2.923), (80, 5.747), (85, 11.473)],
)
def test_load_factor(bank: int, factor: float) -> None:
    """The load-factor table of the FAA testing supplement, in a copy; its last digits differ from exact ones."""
    assert load_factor(bank) == pytest.approx(factor, rel=0.0025)


@pytest.mark.parametrize(("bank", "factor"), [(30, 1.155), (45, 1.414), (60, 2.0), (70, 2.924), (80, 5.759)])
def test_load_factor_is_exact(bank: int, factor: float) -> None:
    """1 / cos bank to three places (CALC)."""
    assert load_factor(bank) == pytest.approx(factor, abs=0.0005)


@pytest.mark.parametrize(
    ("direction", "speed", "gust", "said"),
    [(361, 20, None, "360"), (-1, 20, None, "360"), (180, -1, None, "negative"), (180, 20, 19, "weaker")],
)
def test_impossible_wind_is_refused(direction: int, speed: int, gust: int | None, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Wind(direction, speed, gust)


def test_impossible_heading_and_turns_are_refused() -> None:
    with pytest.raises(ValueError, match="runway heading"):
        wind_components(Wind(180, 20), 361)
    for bank in (0, 90, -30):
        with pytest.raises(ValueError, match="bank"):
            turn_radius_ft(80, bank)
        with pytest.raises(ValueError, match="bank"):
            turn_rate(80, bank)
    with pytest.raises(ValueError, match="speed"):
        turn_rate(0, 30)
    for bank in (90, -1):
        with pytest.raises(ValueError, match="bank"):
            load_factor(bank)


class _Runway:
    def __init__(self, heading: int) -> None:
        self.heading_magnetic = heading


def test_best_runway_has_the_most_headwind() -> None:
    south, north = _Runway(180), _Runway(360)
    assert best_runway(Wind(200, 10), [north, south]) is south
    assert best_runway(Wind(20, 10), [south, north]) is north
    assert best_runway(Wind(None, 3), [south, north]) is None
    assert best_runway(Wind(200, 10), []) is None


@pytest.mark.parametrize("direction", [90, 270])
def test_straight_across_the_first_runway_named_is_taken(direction: int) -> None:
    south, north = _Runway(180), _Runway(360)
    assert best_runway(Wind(direction, 10), [south, north]) is south
    assert best_runway(Wind(direction, 10), [north, south]) is north
