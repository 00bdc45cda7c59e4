"""Read the wind of a pasted METAR with a library. Its directions are degrees true (ICAO Annex 3, from memory)."""

from dataclasses import dataclass
from datetime import date, datetime

from metar.Metar import Metar, ParserError

from lessons.rules.wind import Wind, to_magnetic


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
    """Parse the wind of a METAR or SPECI. `on` gives month and year, which a report does not contain."""
    # Pasted from anywhere: line breaks inside it and the “=” that ends a report (from memory) are no part of it.
    code = " ".join(text.upper().rstrip("= \n").split())
    # Remarks are cut off: they hold no wind group, and their free text must not make a report unreadable.
    try:
        metar = Metar(code.split(" RMK")[0], month=on.month, year=on.year)
    except (ParserError, ValueError, IndexError, KeyError) as error:
        raise UnreadableReport(
            "This cannot be read as a METAR: paste the whole line, or enter the wind by hand."
        ) from error
    if metar.station_id is None or metar.wind_speed is None:
        raise UnreadableReport("This METAR has no wind that can be read: enter the wind by hand.")
    direction = round(metar.wind_dir.value()) if metar.wind_dir is not None else None
    # A report may be in metres per second; a lesson stores knots.
    speed = round(metar.wind_speed.value("KT"))
    gust = round(metar.wind_gust.value("KT")) if metar.wind_gust is not None else None
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
