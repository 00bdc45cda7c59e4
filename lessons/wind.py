"""Wind on a runway. Direction and heading in one reference, here degrees magnetic; speeds in knots."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True)
class Wind:
    """Steady wind with an optional gust. `direction` None: calm or variable, no components."""

    direction: int | None
    speed_kt: int
    gust_kt: int | None = None

    def __post_init__(self) -> None:
        if self.direction is not None and not 0 <= self.direction <= 360:
            raise ValueError(f"a wind direction lies between 0 and 360 degrees, got {self.direction}")
        if self.gust_kt is not None and self.gust_kt < self.speed_kt:
            raise ValueError("a gust is at least as strong as the steady wind")

    @property
    def gust_allowance_kt(self) -> float:
        """Half the gust factor, the gust less the steady wind: what an approach speed is raised by.

        Common practice; the Airplane Flying Handbook's example (70 kt and a gust factor of 15) is from memory.
        """
        return (self.gust_kt - self.speed_kt) / 2 if self.gust_kt is not None else 0.0


@dataclass(frozen=True)
class Components:
    """Headwind positive, tailwind negative; crosswind positive from the right."""

    headwind_kt: float
    crosswind_kt: float

    @property
    def words(self) -> str:
        along = "headwind" if self.headwind_kt >= 0 else "tailwind"
        across = round(abs(self.crosswind_kt))
        side = "" if across == 0 else f" from the {'right' if self.crosswind_kt > 0 else 'left'}"
        return f"crosswind {across} kt{side}, {along} {round(abs(self.headwind_kt))} kt"


class HasHeading(Protocol):
    heading_magnetic: int


def components(wind: Wind, heading: int) -> Components:
    """Along and across a runway of this heading."""
    if wind.direction is None:
        return Components(0.0, 0.0)
    angle = math.radians(wind.direction - heading)
    return Components(wind.speed_kt * math.cos(angle), wind.speed_kt * math.sin(angle))


def best_runway(wind: Wind, runways: Iterable[HasHeading]) -> HasHeading | None:
    """The runway with the most headwind; None without runways or without a direction."""
    if wind.direction is None:
        return None
    return max(runways, key=lambda row: components(wind, row.heading_magnetic).headwind_kt, default=None)


def turn_radius_ft(speed_kt: float, bank_deg: float) -> float:
    """V² / (11.26 tan bank), feet (FAA-H-8083-25C, chapter 5; formula from memory, constant rounded there)."""
    return speed_kt**2 / (11.26 * math.tan(math.radians(bank_deg)))


def load_factor(bank_deg: float) -> float:
    """1 / cos bank, in level flight."""
    return 1 / math.cos(math.radians(bank_deg))
