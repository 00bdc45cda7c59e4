"""Compute wind on a runway, and turns. Pure. Speeds in knots, angles in degrees.

Wind direction and runway heading are given in one and the same reference, here degrees magnetic: a report
in degrees true is turned by the variation first (`magnetic`). All of it advises; none of it permits a flight.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, Protocol, TypeVar

# FAA-H-8083-25C, chapter 5 (from memory). The handbook rounds both: g = 32.174 ft/s² gives 1,092.2 and 11.294.
RATE_CONSTANT = 1091
RADIUS_CONSTANT = 11.26


@dataclass(frozen=True)
class Wind:
    """Describe a steady wind, magnetic, with the speed of its gusts. `direction` None: calm or variable.

    `varies`: the two directions it swings between, clockwise from the first.
    """

    direction: int | None
    speed_kt: int
    gust_kt: int | None = None
    varies: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        for degrees in (self.direction, *(self.varies or ())):
            if degrees is not None:
                _refuse_outside_circle("wind direction", degrees)
        if self.speed_kt < 0:
            raise ValueError(f"a wind speed is not negative, got {self.speed_kt} kt")
        # Its allowance would be negative, and the approach slower than without gusts.
        if self.gust_kt is not None and self.gust_kt < self.speed_kt:
            raise ValueError(f"a gust of {self.gust_kt} kt is weaker than the steady wind of {self.speed_kt} kt")

    @property
    def strongest_kt(self) -> int:
        return self.speed_kt if self.gust_kt is None else self.gust_kt

    @property
    def gust_allowance_kt(self) -> float:
        """Return half the gust factor (gust less steady wind), by which an approach speed is raised.

        Common practice. Not rounded: 15 kt of gust factor give 7.5, which the example of the Airplane Flying
        Handbook (from memory) drops to 7.
        """
        return (self.strongest_kt - self.speed_kt) / 2


@dataclass(frozen=True)
class WindComponents:
    """Hold the components: headwind positive, tailwind negative; crosswind positive from the right."""

    headwind_kt: float
    crosswind_kt: float

    @property
    def side(self) -> Literal["left", "right", "none"]:
        """Return where the crosswind comes from, in whole knots as it is shown."""
        if round(self.crosswind_kt) == 0:
            return "none"
        return "right" if self.crosswind_kt > 0 else "left"

    @property
    def words(self) -> str:
        along = "tailwind" if round(self.headwind_kt) < 0 else "headwind"
        side = "" if self.side == "none" else f" from the {self.side}"
        return f"crosswind {round(abs(self.crosswind_kt))} kt{side}, {along} {round(abs(self.headwind_kt))} kt"


def to_magnetic(true: int, variation_east: float) -> int:
    """Convert a direction in degrees true to degrees magnetic, 1 to 360. Easterly variation counts positive.

    Magnetic direction is true direction less easterly variation: common practice.
    """
    # Counted from 1, so that north is 360 and not 0.
    return round(true - variation_east - 1) % 360 + 1


def worst_crosswind_kt(wind: Wind, runway_heading: int) -> float:
    """Return the most that gusts or a swing of the wind may put across a runway.

    All of the wind counts where its direction is unknown: a variable wind may come from the side.
    """
    if wind.direction is None:
        return float(wind.strongest_kt)
    angles = _angles_off_runway(wind, runway_heading)
    return max(_drop_rounding_error(wind.strongest_kt * abs(math.sin(math.radians(angle)))) for angle in angles)


def worst_tailwind_kt(wind: Wind, runway_heading: int) -> float:
    """Return the most that gusts or a swing may blow from behind; negative for a headwind all through.

    All of the wind counts where its direction is unknown.
    """
    if wind.direction is None:
        return float(wind.strongest_kt)
    return max(
        -_drop_rounding_error(wind.strongest_kt * math.cos(math.radians(angle)))
        for angle in _angles_off_runway(wind, runway_heading)
    )


def _angles_off_runway(wind: Wind, runway_heading: int) -> set[int]:
    """Return the angles from the runway to the wind over its whole swing, degrees."""
    assert wind.direction is not None
    angles = {(wind.direction - runway_heading) % 360}
    if wind.varies:
        first, last = wind.varies
        # Every degree and not the two ends: the worst may lie between them.
        angles |= {(first + turn - runway_heading) % 360 for turn in range((last - first) % 360 + 1)}
    return angles


class HasHeading(Protocol):
    heading_magnetic: int


RunwayT = TypeVar("RunwayT", bound=HasHeading)


def wind_components(wind: Wind, runway_heading: int, *, in_gust: bool = False) -> WindComponents:
    """Return the wind along and across a runway of this magnetic heading, steady or in its gusts.

    ValueError for a variable wind: it may blow across any runway, and zero would be a false comfort.
    """
    _refuse_outside_circle("runway heading", runway_heading)
    speed = wind.strongest_kt if in_gust else wind.speed_kt
    if wind.direction is None:
        if wind.strongest_kt > 0:
            raise ValueError(f"a variable wind of {wind.strongest_kt} kt has no components")
        return WindComponents(0.0, 0.0)
    angle = math.radians(wind.direction - runway_heading)
    return WindComponents(_drop_rounding_error(speed * math.cos(angle)), _drop_rounding_error(speed * math.sin(angle)))


def best_runway(wind: Wind, runways: Iterable[RunwayT]) -> RunwayT | None:
    """Return the runway with the most headwind, the first on a tie; None without runways or a direction."""
    if wind.direction is None:
        return None
    return max(runways, key=lambda row: wind_components(wind, row.heading_magnetic).headwind_kt, default=None)


def turn_radius_ft(speed_kt: float, bank_deg: float) -> float:
    """Return V² / (11.26 tan bank), feet, in a level turn at this true airspeed in still air."""
    _refuse_impossible_turn(speed_kt, bank_deg)
    return speed_kt**2 / (RADIUS_CONSTANT * math.tan(math.radians(bank_deg)))


def turn_rate(speed_kt: float, bank_deg: float) -> float:
    """Return 1,091 tan bank / V, degrees a second, in a level turn at this true airspeed."""
    _refuse_impossible_turn(speed_kt, bank_deg)
    return RATE_CONSTANT * math.tan(math.radians(bank_deg)) / speed_kt


def load_factor(bank_deg: float) -> float:
    """Return 1 / cos bank, in a level turn; 1 with wings level."""
    if not 0 <= bank_deg < 90:
        raise ValueError(f"a bank in level flight lies from 0 to under 90 degrees, got {bank_deg}")
    return 1 / math.cos(math.radians(bank_deg))


def _drop_rounding_error(speed: float) -> float:
    """Drop the error of binary arithmetic, so that a wind straight across is neither headwind nor tailwind."""
    return round(speed, 9) + 0.0  # adding zero turns a negative zero into a positive one


def _refuse_outside_circle(what: str, degrees: int) -> None:
    if not 0 <= degrees <= 360:
        raise ValueError(f"a {what} lies between 0 and 360 degrees, got {degrees}")


def _refuse_impossible_turn(speed_kt: float, bank_deg: float) -> None:
    if speed_kt <= 0:
        raise ValueError(f"a turn needs speed, got {speed_kt} kt")
    if not 0 < bank_deg < 90:
        raise ValueError(f"the bank of a turn lies between 0 and 90 degrees, got {bank_deg}")
