"""Write computed lengths, speeds and sinks in the units of a school, no finer than they can be flown. Pure.

A wind that was reported stays in knots, as it was reported. One that is worked out for a height is written in the
school's unit of speed, because it is added to an airspeed there.
"""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from lessons.rules.units import DisplayUnits, convert, round_to_step
from school.formats import write_number

# In the unit itself, so that a school in metres reads round metres: 10 ft are about 3 m.
WHOLE: Mapping[str, int] = {"ft": 1, "m": 1}
TENS: Mapping[str, int] = {"ft": 10, "m": 5}
HUNDREDS: Mapping[str, int] = {"ft": 100, "m": 50}
SCALE_BARS: Mapping[str, int] = {"ft": 1000, "m": 300}


def write_length(feet: float, units: DisplayUnits, steps: Mapping[str, int] = WHOLE) -> str:
    """Return '1,210 ft' or '370 m', to the nearest step of the unit."""
    return f"{write_number(rounded_length(feet, units, steps), 0)} {units.length}"


def rounded_length(feet: float, units: DisplayUnits, steps: Mapping[str, int] = WHOLE) -> Decimal:
    """Return a length in the school's unit, to the nearest step of that unit."""
    return round_to_step(convert(Fraction(feet), "ft", units.length), str(steps[units.length]))


def write_speed(knots: float, units: DisplayUnits) -> str:
    """Return '68 kt' or '126 km/h'."""
    return f"{write_number(round_to_step(convert(Fraction(knots), 'kt', units.speed)), 0)} {units.speed}"


def write_sink(feet_a_minute: float, units: DisplayUnits) -> str:
    """Return '740 ft a minute', or '3.8 m/s' where lengths are in metres, as instruments there are marked."""
    if units.length == "m":
        return f"{write_number(round_to_step(convert(Fraction(feet_a_minute) / 60, 'ft', 'm'), '0.1'))} m/s"
    return f"{write_number(round_to_step(Fraction(feet_a_minute)), 0)} ft a minute"


def scale_bar(units: DisplayUnits) -> tuple[float, str]:
    """Return the length of the bar under a plan in feet, and its words."""
    length = SCALE_BARS[units.length]
    return float(convert(length, units.length, "ft")), f"{length:,} {units.length}"
