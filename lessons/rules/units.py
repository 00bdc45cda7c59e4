"""Convert feet and metres, knots and kilometres an hour, as exact fractions: a unit never changes a grade. Pure.

1 ft = 0.3048 m (international foot, agreement of 1959) and 1 NM = 1,852 m (First International Extraordinary
Hydrographic Conference, Monaco, 1929; SI Brochure, non-SI units), both exact by definition.
"""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

MINUTES_PER_DAY = 24 * 60

# What is measured, and how much of its metric unit one of this unit is. Fractions, because a value exactly on its
# tolerance must be inside it in either unit.
_UNIT_FACTORS: dict[str, tuple[str, Fraction]] = {
    "ft": ("length", Fraction("0.3048")),
    "m": ("length", Fraction(1)),
    "kt": ("speed", Fraction("1.852")),
    "km/h": ("speed", Fraction(1)),
    "deg": ("angle", Fraction(1)),
    "rpm": ("rotation", Fraction(1)),
    "inHg": ("pressure", Fraction(1)),
}


def convert(value: Decimal | Fraction | int, unit: str, to: str) -> Fraction:
    """Return a value in another unit of its kind, without rounding. ValueError for two kinds or an unknown unit."""
    for name in (unit, to):
        if name not in _UNIT_FACTORS:
            raise ValueError(f"{name} is not a unit that is known here")
    (kind, factor), (other, divisor) = _UNIT_FACTORS[unit], _UNIT_FACTORS[to]
    if kind != other:
        raise ValueError(f"{unit} cannot be converted to {to}")
    # Most numbers are read in the unit of their target: the fractions would be multiplied and divided by the same one.
    return Fraction(value) if unit == to else Fraction(value) * factor / divisor


@dataclass(frozen=True, slots=True)
class DisplayUnits:
    """Set the units of a school for speeds and lengths. Wind stays in knots, as it is reported."""

    speed: str = "kt"
    length: str = "ft"

    def unit_for(self, unit: str) -> str:
        """Return the school's unit for what is stored in this one."""
        kind = _UNIT_FACTORS[unit][0] if unit in _UNIT_FACTORS else None
        return {"speed": self.speed, "length": self.length}.get(str(kind), unit)


KNOTS_AND_FEET = DisplayUnits()


def round_to_step(value: Fraction | Decimal, step: str = "1") -> Decimal:
    """Round to the nearest multiple of a step, halves up: for a person to read, never to judge by."""
    exact = Decimal(value.numerator) / Decimal(value.denominator) if isinstance(value, Fraction) else value
    return (exact / Decimal(step)).quantize(Decimal(1), ROUND_HALF_UP) * Decimal(step)


def convert_for_display(value: Decimal | Fraction | int, unit: str, units: DisplayUnits, digits: int = 1) -> Decimal:
    """Return what is stored in one unit as a person of this school reads it, without needless zeros."""
    exact = convert(value, unit, units.unit_for(unit))
    step = "1" if digits == 0 else "0." + "0" * (digits - 1) + "1"
    return Decimal(f"{round_to_step(exact, step).normalize():f}")


def format_target(value: Decimal, over: Decimal, under: Decimal, unit: str, units: DisplayUnits) -> str:
    """Return '75 kt +10 −5' in the school's units. A side without tolerance is written 0."""
    aim, above, below = (convert_for_display(number, unit, units) for number in (value, over, under))
    return f"{aim:f} {units.unit_for(unit)} +{above:f} \u2212{below:f}"
