"""Find the wind at a height, and the way over the ground of an aeroplane that holds a course in it. Pure."""

import math
from dataclasses import dataclass
from typing import Self

from lessons.rules.unit_words import write_length, write_speed
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits
from lessons.rules.wind import RADIUS_CONSTANT, Wind, wind_components

KNOT_FT_S = 1852 / 0.3048 / 3600  # feet a second in a knot, exact by definition
GRAVITY_FT_S2 = 9.80665 / 0.3048  # standard gravity
# An assumption, printed beside the picture: at 1,000 ft the wind is half as strong again as at the ground.
GROWTH, GROWTH_POWER, GROWTH_TOP_FT = 0.5, 0.6, 1000.0


class CannotFly(ValueError):
    """Refuse a wind in which this circuit cannot be flown or worked out.

    sentence: for a page, with the numbers in braces by their names; those of `numbers` that end in _ft are feet, the
    others knots.
    """

    def __init__(self, sentence: str, **numbers: float) -> None:
        super().__init__(sentence)
        self.sentence, self.numbers = sentence, numbers

    def words(self, units: DisplayUnits) -> str:
        """Return the sentence in the units of a school."""
        if not self.numbers:
            return self.sentence
        written = {
            name: (write_length if name.endswith("_ft") else write_speed)(value, units)
            for name, value in self.numbers.items()
        }
        return self.sentence.format(**written)

    def __str__(self) -> str:
        return self.words(KNOTS_AND_FEET)


@dataclass(frozen=True, slots=True)
class CircuitAir:
    """Give how the air moves near the ground along the landing and to the side of the circuit, knots."""

    along_kt: float
    across_kt: float

    @classmethod
    def from_wind(cls, wind: Wind, runway_heading: int, *, left: bool) -> Self:
        """Convert a reported wind. ValueError for a variable one, as in wind_components()."""
        parts = wind_components(wind, runway_heading)
        # The air moves away from where the wind comes from: a wind from the right carries to the left.
        return cls(-parts.headwind_kt, parts.crosswind_kt if left else -parts.crosswind_kt)

    @property
    def speed_kt(self) -> float:
        return math.hypot(self.along_kt, self.across_kt)

    def at_height(self, height_ft: float) -> tuple[float, float]:
        """Return both components at a height above the aerodrome; below it they are those at the ground."""
        factor = growth_factor(height_ft)
        return self.along_kt * factor, self.across_kt * factor


def growth_factor(height_ft: float) -> float:
    """Return how many times the wind at the ground blows at a height, by the printed assumption."""
    share = min(max(height_ft, 0.0), GROWTH_TOP_FT) / GROWTH_TOP_FT
    return 1 + GROWTH * math.pow(share, GROWTH_POWER)


@dataclass(frozen=True, slots=True)
class OverGround:
    """Describe a course held in a wind: where the nose points and how fast the ground goes by.

    course, heading: radians from x towards y. wind: how the air moves there.
    """

    airspeed_kt: float
    course: float
    heading: float
    ground_kt: float
    wind: tuple[float, float]

    @property
    def drift(self) -> float:
        """Return the angle from the nose to the course, radians, positive from x towards y."""
        return self.course - self.heading


def hold_course(airspeed_kt: float, course: float, wind: tuple[float, float]) -> OverGround:
    """Return the heading that holds a course, by the wind triangle. CannotFly where no heading does."""
    along = wind[0] * math.cos(course) + wind[1] * math.sin(course)
    across = -wind[0] * math.sin(course) + wind[1] * math.cos(course)
    if abs(across) >= airspeed_kt:
        raise CannotFly(
            "The wind across the way is {across}, and the aeroplane flies {airspeed}: no heading holds this leg. No"
            " circuit can be calculated in this wind.",
            across=abs(across),
            airspeed=airspeed_kt,
        )
    nose = -math.asin(across / airspeed_kt)
    ground = airspeed_kt * math.cos(nose) + along
    if ground <= 0:
        raise CannotFly(
            "The wind against the aeroplane is {against}, and it flies {airspeed}: it makes no headway over the"
            " ground. No circuit can be calculated in this wind.",
            against=-along,
            airspeed=airspeed_kt,
        )
    return OverGround(airspeed_kt, course, course + nose, ground, wind)


def bank_for_round_path(ground_kt: float, radius_ft: float, drift_deg: float = 0.0) -> float:
    """Return the bank that a round path over the ground asks for, degrees: atan(Vg² / (11.26 R cos drift)).

    Of a level turn at a constant airspeed in a steady wind. The lift's level part points across the nose, and only
    its share across the course bends the path: g tan(bank) cos(drift) = Vg² / R. Without wind it is the inverse of
    turn_radius_ft().
    """
    if radius_ft <= 0:
        raise ValueError(f"a turn has a radius, got {radius_ft} ft")
    return math.degrees(math.atan(ground_kt**2 / (RADIUS_CONSTANT * radius_ft * math.cos(math.radians(drift_deg)))))
