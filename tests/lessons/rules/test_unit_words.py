"""Computed numbers in the units of a school. One of the factors outside the project: scipy.constants (SciPy)."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from lessons.rules.unit_words import HUNDREDS, TENS, scale_bar, write_length, write_sink, write_speed
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits

METRIC = DisplayUnits("km/h", "m")


@pytest.mark.parametrize(
    ("written", "words"),
    [
        # By hand: 1,214 × 0.3048 = 370.03 m; 68 × 1.852 = 125.9 km/h; 742 ÷ 60 × 0.3048 = 3.77 m/s.
        (write_length(1214, METRIC, TENS), "370 m"),
        (write_length(1214, KNOTS_AND_FEET, TENS), "1,210 ft"),
        (write_length(560, METRIC, HUNDREDS), "150 m"),
        (write_length(560, KNOTS_AND_FEET, HUNDREDS), "600 ft"),
        (write_length(55, METRIC), "17 m"),
        (write_speed(68, METRIC), "126 km/h"),
        (write_speed(67.5, KNOTS_AND_FEET), "68 kt"),
        (write_sink(742, METRIC), "3.8 m/s"),
        (write_sink(742.3, KNOTS_AND_FEET), "742 ft a minute"),
    ],
)
def test_numbers_are_rounded_in_the_unit_they_are_read_in(written: str, words: str) -> None:
    assert written == words


@given(st.floats(0, 40_000))
def test_a_length_and_a_speed_are_half_a_step_off_at_most(value: float) -> None:
    metres = float(write_length(value, METRIC, TENS).removesuffix(" m").replace(",", ""))
    assert abs(metres - value * constants.foot) <= 2.5 + 1e-6
    kmh = float(write_speed(value, METRIC).removesuffix(" km/h").replace(",", ""))
    assert abs(kmh - value * constants.knot / constants.kmh) <= 0.5 + 1e-6


def test_the_bar_under_a_plan_is_as_long_as_it_says() -> None:
    feet, words = scale_bar(METRIC)
    assert (words, feet * constants.foot) == ("300 m", pytest.approx(300))
    assert scale_bar(KNOTS_AND_FEET) == (Fraction(1000), "1,000 ft")
