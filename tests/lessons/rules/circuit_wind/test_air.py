"""Wind at a height and the wind triangle, worked by hand."""

import math

import pytest

from lessons.rules.circuit_wind import CannotFly, CircuitAir, bank_for_round_path, hold_course
from lessons.rules.circuit_wind.air import growth_factor
from lessons.rules.wind import Wind, turn_radius_ft


def test_the_wind_grows_by_half_up_to_a_thousand_feet() -> None:
    """By hand: 0.5^0.6 = 0.6598, and 0.1^0.6 = 0.2512."""
    assert growth_factor(0) == 1
    assert growth_factor(-50) == 1
    assert growth_factor(100) == pytest.approx(1.1256, abs=1e-4)
    assert growth_factor(500) == pytest.approx(1.3299, abs=1e-4)
    assert growth_factor(1000) == 1.5
    assert growth_factor(3000) == 1.5


def test_the_air_moves_away_from_where_the_wind_comes_from() -> None:
    """FAA knowledge-test sample, as in test_wind.py: runway 18, wind 220 at 30: 22.98 ahead, 19.28 from the right."""
    left, right = (CircuitAir.from_wind(Wind(220, 30), 180, left=side) for side in (True, False))
    assert (round(left.along_kt, 2), round(left.across_kt, 2)) == (-22.98, 19.28)
    assert (right.along_kt, right.across_kt) == (left.along_kt, -left.across_kt)
    assert CircuitAir.from_wind(Wind(None, 0), 180, left=True) == CircuitAir(0, 0)
    with pytest.raises(ValueError, match="variable"):
        CircuitAir.from_wind(Wind(None, 5), 180, left=True)


@pytest.mark.parametrize(
    ("airspeed", "course", "wind", "nose", "ground"),
    [
        # A right angle with sides of 3, 4 and 5: the nose 36.87° into the wind, and 40 kt of 50 left.
        (50, 0, (0, 30), -36.87, 40),
        (50, 0, (0, -30), 36.87, 40),
        # Along the way the wind is added, against it taken off, and the nose stays.
        (80, 0, (-20, 0), 0, 60),
        (80, 180, (-20, 0), 0, 100),
        # 100 kt and 20 kt straight across: sine 0.2, 11.54°, and 97.98 kt.
        (100, 90, (20, 0), 11.54, 97.98),
        # 5-12-13: 12 of 13 kt across leave 5, and 2 along the way make 7.
        (13, 0, (2, 12), -67.38, 7),
    ],
)
def test_the_wind_triangle(
    airspeed: float, course: float, wind: tuple[float, float], nose: float, ground: float
) -> None:
    """By hand; the wind triangle of the Pilot's Handbook of Aeronautical Knowledge is the same one (from memory)."""
    found = hold_course(airspeed, math.radians(course), wind)
    assert math.degrees(found.heading - found.course) == pytest.approx(nose, abs=0.005)
    assert math.degrees(found.drift) == pytest.approx(-nose, abs=0.005)
    assert found.ground_kt == pytest.approx(ground, abs=0.005)


@pytest.mark.parametrize(
    ("wind", "words"), [((0, 70), "across the way is 70 kt"), ((-68, 0), "no headway over the ground")]
)
def test_a_wind_that_no_heading_overcomes_is_refused_in_a_sentence(wind: tuple[float, float], words: str) -> None:
    with pytest.raises(CannotFly, match=words):
        hold_course(68, 0, wind)


@pytest.mark.parametrize(("ground", "bank"), [(107, 37.8), (98, 33.1), (68, 17.4), (76, 21.4)])
def test_the_bank_that_a_round_path_asks_for(ground: float, bank: float) -> None:
    """CALC with the handbook's 11.26: 76 kt and 21.4° make 1,309 ft, and on that radius 107 kt ask for 37.8°."""
    radius = turn_radius_ft(76, 21.4)
    assert round(radius) == 1309
    assert round(bank_for_round_path(ground, radius), 1) == bank


def test_drift_asks_for_more_bank() -> None:
    """By hand: 98 kt on 1,309 ft and 15° of drift: 0.6516 / 0.9659 = 0.6746, 34.0° and not 33.1°."""
    assert bank_for_round_path(98, 1309, 15) == pytest.approx(34.0, abs=0.05)
    with pytest.raises(ValueError, match="radius"):
        bank_for_round_path(98, 0)
