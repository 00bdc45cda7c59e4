"""Feet and metres, knots and kilometres an hour, as exact fractions: a unit never changes a grade. Pure.

1 ft = 0.3048 m (international foot, agreement of 1959) and 1 NM = 1,852 m (First International Extraordinary
Hydrographic Conference, Monaco, 1929; SI Brochure, non-SI units), both exact by definition.
"""

from decimal import Decimal
from fractions import Fraction

# What is measured, and how much of its metric unit one of this unit is.
_UNITS: dict[str, tuple[str, Fraction]] = {
    "ft": ("length", Fraction("0.3048")),
    "m": ("length", Fraction(1)),
    "kt": ("speed", Fraction("1.852")),
    "km/h": ("speed", Fraction(1)),
    "deg": ("angle", Fraction(1)),
}


def converted(value: Decimal | Fraction | int, unit: str, to: str) -> Fraction:
    """The value of one unit in another of its kind, without rounding; ValueError for two kinds or an unknown unit."""
    for name in (unit, to):
        if name not in _UNITS:
            raise ValueError(f"{name} is not a unit that is known here")
    (kind, factor), (other, divisor) = _UNITS[unit], _UNITS[to]
    if kind != other:
        raise ValueError(f"{unit} cannot be converted to {to}")
    return Fraction(value) * factor / divisor
