"""The weather of each day, the same for all who fly on it. Invented: westerly days, gusts in the afternoon, fog."""

import random
from dataclasses import dataclass
from datetime import date
from functools import cache

from grading.simulation.demo.demo_school import VARIATION

RUNWAYS = (70, 250)
MAX_FLYABLE_WIND_KT = 24


@dataclass(frozen=True)
class WeatherDay:
    """Wind in degrees magnetic and knots; `gust_kt` is what it gusts to, None without gusts."""

    on: date
    direction: int
    speed_kt: int
    gust_kt: int | None
    fog: bool

    @property
    def is_flyable(self) -> bool:
        return not self.fog and (self.gust_kt or self.speed_kt) <= MAX_FLYABLE_WIND_KT

    @property
    def runway(self) -> int:
        """The place in RUNWAYS of the one into the wind."""
        return min(range(len(RUNWAYS)), key=lambda place: abs((self.direction - RUNWAYS[place] + 180) % 360 - 180))

    @property
    def is_within_solo_limits(self) -> bool:
        """Within the limits that a first solo is released for: 12 kt, 5 kt across."""
        off = abs((self.direction - RUNWAYS[self.runway] + 180) % 360 - 180)
        return self.is_flyable and self.gust_kt is None and self.speed_kt <= (8 if off <= 30 else 4)

    def report(self, hour: int) -> str:
        """As a METAR, degrees true."""
        true = (self.direction + VARIATION - 1) % 360 + 1
        gust = f"G{self.gust_kt:02d}" if self.gust_kt else ""
        return f"ZZZZ {self.on:%d}{hour:02d}50Z {true:03d}{self.speed_kt:02d}{gust}KT 9999 FEW035 14/08 Q1018"


class Weather:
    def __init__(self, seed: int) -> None:
        self.on = cache(lambda day: _draw_day(seed, day))


def _draw_day(seed: int, day: date) -> WeatherDay:
    draw = random.Random(f"{seed} {day.isoformat()}")
    direction = round(draw.gauss(240, 60)) % 360 or 360
    speed = min(30, max(1, round(draw.gammavariate(3, 3))))
    gust = speed + draw.randint(4, 9) if speed > 6 and draw.random() < 0.3 else None
    return WeatherDay(day, direction, speed, gust, draw.random() < 0.08)
