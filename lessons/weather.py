"""Read the wind of a pasted METAR with a library. Its directions are degrees true (ICAO Annex 3, from memory)."""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from metar.Metar import Metar, ParserError

from lessons.rules.wind import Wind, to_magnetic

NOT_A_REPORT = "This cannot be read as a METAR: paste the whole line, or enter the wind by hand."
NO_WIND = "This METAR reports no wind: enter the wind by hand."

# The groups of time, wind and swing (form from memory). The unit is asked for: without it, the library assumes metres
# per second, and knots would be doubled. The letter O for a zero is a common slip, which the library forgives.
TIME_GROUP = re.compile(r"\b(?P<day>[0-9]{2})[0-9]{4}Z\b")
WIND_GROUP = re.compile(r"([0-9O]{3}|VRB|///|MMM)(P?[0-9O]{2,3}|[/M]{2,3})(G(P?[0-9O]{2,3}|[/M]{2,3}))?(KTS?|MPS|KMH)")
SWING_GROUP = re.compile(r"[0-9]{3}V[0-9]{3}")

# Stronger than any surface wind on record (from memory: 253 mph, 220 kt), so it is a slip of the hand.
STRONGEST_KT = 220
HALF_A_MONTH = timedelta(days=16)


class UnreadableReport(ValueError):
    """The text cannot be read as a METAR with a wind; the message says what to do."""


@dataclass(frozen=True, slots=True)
class MetarReport:
    """Directions in degrees true, 1 to 360; speeds in whole knots. `direction` None: calm or variable."""

    station: str
    at: datetime | None
    direction: int | None
    speed_kt: int
    gust_kt: int | None
    varies: tuple[int, int] | None

    def wind(self, variation_east: float) -> Wind:
        """Return the same wind in degrees magnetic."""
        direction = None if self.direction is None else to_magnetic(self.direction, variation_east)
        varies = None
        if self.varies:
            varies = to_magnetic(self.varies[0], variation_east), to_magnetic(self.varies[1], variation_east)
        return Wind(direction, self.speed_kt, self.gust_kt, varies)


def parse_metar(text: str, on: date) -> MetarReport:
    """Parse the wind of a METAR or SPECI. `on`: a day near it; a report names the day of a month and no month."""
    # Pasted from anywhere: line breaks inside it and the “=” that ends a report (from memory) are no part of it.
    head = _head(" ".join(text.upper().rstrip("= \n").split()))
    day = _nearest_day(head, on)
    try:
        metar = Metar(head, month=day.month, year=day.year)
    except (ParserError, ValueError, IndexError, KeyError) as error:
        raise UnreadableReport(NOT_A_REPORT) from error
    if metar.station_id is None:
        raise UnreadableReport(NOT_A_REPORT)
    if metar.wind_speed is None:
        raise UnreadableReport(NO_WIND)
    direction = round(metar.wind_dir.value()) if metar.wind_dir is not None else None
    # A report may be in metres per second or kilometres an hour; a lesson stores knots.
    speed = round(metar.wind_speed.value("KT"))
    gust = round(metar.wind_gust.value("KT")) if metar.wind_gust is not None else None
    if max(speed, gust or 0) > STRONGEST_KT:
        raise UnreadableReport(f"This METAR has a wind of more than {STRONGEST_KT} kt: check it, or enter it by hand.")
    varies = None
    if metar.wind_dir_from is not None and metar.wind_dir_to is not None:
        varies = round(metar.wind_dir_from.value()), round(metar.wind_dir_to.value())
    return MetarReport(
        station=metar.station_id,
        at=metar.time,
        # Calm is written as direction 0 (from memory), which must not become a wind from north.
        direction=None if speed == 0 else direction,
        speed_kt=speed,
        # Wind and the database refuse a gust below the steady wind: without this, such a report could not be used.
        gust_kt=max(gust, speed) if gust is not None else None,
        varies=varies,
    )


def _head(code: str) -> str:
    """Return a report up to its wind. UnreadableReport where there is none, or more than one report."""
    groups = code.split(" ")
    if sum(TIME_GROUP.fullmatch(group) is not None for group in groups) > 1:
        raise UnreadableReport("These are several reports: paste one METAR only, or enter the wind by hand.")
    place = next((place for place, group in enumerate(groups) if WIND_GROUP.fullmatch(group)), None)
    if place is None:
        raise UnreadableReport(NO_WIND if TIME_GROUP.search(code) else NOT_A_REPORT)
    # What follows says nothing about the wind, and groups that the library does not know (the temperature of the sea,
    # the state of a runway behind a trend) must not make a report unreadable.
    follows = groups[place + 1 : place + 2]
    return " ".join(groups[: place + 1] + [group for group in follows if SWING_GROUP.fullmatch(group)])


def _nearest_day(head: str, on: date) -> date:
    """Return the day nearest to `on` with the day of the month that a report names; `on` itself where it names none."""
    named = TIME_GROUP.search(head)
    if named is None:
        return on
    day = int(named["day"])
    months = [(on.year * 12 + on.month - 1 + shift) for shift in (-1, 0, 1)]
    # Never a day that a month does not have, such as 31 June.
    days = [
        date(month // 12, month % 12 + 1, day)
        for month in months
        if 1 <= day <= monthrange(month // 12, month % 12 + 1)[1]
    ]
    nearest = min(days, key=lambda candidate: abs(candidate - on), default=None)
    # Half a month away only where the month at hand has no such day: rather a slip of the hand than another month.
    if nearest is None or abs(nearest - on) > HALF_A_MONTH:
        raise UnreadableReport(
            f"This METAR is of day {day}, which is not near {on.day} {on:%b}: check it, or enter the wind by hand."
        )
    return nearest
