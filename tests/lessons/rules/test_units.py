"""Units against their definitions.

1 NM = 1,852 m: SI Brochure, non-SI units (nautical mile, knot), as read in a copy of the English text.
1 ft = 0.3048 m: the international foot of 1959, as restated by a conversion table.
"""

from decimal import Decimal as D
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.rules.units import convert

PAIRS = [("ft", "m"), ("m", "ft"), ("kt", "km/h"), ("km/h", "kt")]
values = st.decimals(-10_000, 10_000, places=4)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (1000, "ft", "m", Fraction("304.8")),
        (1, "m", "ft", Fraction(1250, 381)),
        (1, "kt", "km/h", Fraction("1.852")),
        (100, "km/h", "kt", Fraction(25000, 463)),
        (30, "deg", "deg", Fraction(30)),
    ],
)
def test_one_unit_in_another(value: int, unit: str, to: str, expected: Fraction) -> None:
    assert convert(value, unit, to) == expected


def test_a_nautical_mile_in_feet() -> None:
    """6,076.11549 ft, the published value to five places: 1,852 m in feet."""
    assert round(float(convert(1852, "m", "ft")), 5) == 6076.11549


@given(values, st.sampled_from(PAIRS))
def test_there_and_back_is_the_same_value(value: D, pair: tuple[str, str]) -> None:
    unit, to = pair
    assert convert(convert(value, unit, to), to, unit) == Fraction(value)


@given(values, values, st.sampled_from(PAIRS))
def test_the_order_of_two_values_is_kept(one: D, other: D, pair: tuple[str, str]) -> None:
    assert (convert(one, *pair) < convert(other, *pair)) == (one < other)


@pytest.mark.parametrize(("unit", "to"), [("ft", "kt"), ("deg", "m"), ("km/h", "m")])
def test_two_kinds_are_refused(unit: str, to: str) -> None:
    with pytest.raises(ValueError, match="cannot be converted"):
        convert(1, unit, to)


@pytest.mark.parametrize(("unit", "to"), [("mph", "kt"), ("ft", "yd"), ("mph", "mph")])
def test_an_unknown_unit_is_refused(unit: str, to: str) -> None:
    with pytest.raises(ValueError, match="not a unit"):
        convert(1, unit, to)
