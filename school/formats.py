"""How days, times, numbers and units are written, the same on every page and on paper. Pure: values in, text out.

A day has its year, a time its zone, a number its thousands, a minus sign and no needless zero. Files have ISO 8601.
"""

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, tzinfo
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from school.days import zone_name

MINUS = "\u2212"
KILOMETRES_PER_STATUTE_MILE = Decimal("1.609344")  # 5,280 international feet of 0.3048 m


def write_day(day: date) -> str:
    """Return "28 Nov 2026"."""
    return f"{day.day} {day:%b %Y}"


def write_moment(at: datetime, zone: tzinfo = UTC) -> str:
    """Return "28 Nov 2026, 14:05 UTC", in another zone with its name."""
    local = at.astimezone(zone)
    return f"{write_day(local.date())}, {local:%H:%M} {zone_name(at, zone)}"


def write_clock(at: datetime) -> str:
    """Return the time of day in UTC, "14:05": the line or the table that it is in names the zone."""
    return f"{at.astimezone(UTC):%H:%M}"


def write_number(value: float | Decimal, digits: int = 1) -> str:
    """Return a number with at most so many decimals: "1,600", "0.5", "−5"."""
    text = f"{value:,.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text.replace("-", MINUS)


def write_signed(value: float | Decimal, digits: int = 1) -> str:
    """Return a number with its sign, zero without one."""
    text = write_number(value, digits)
    return text if text.startswith(MINUS) or text == "0" else f"+{text}"


def write_tolerance(over: float | Decimal, under: float | Decimal) -> list[str]:
    """Return the sides of a tolerance: ["±100"], ["+10", "−5"], or one side where the other has none."""
    if over == under:
        return [f"±{write_number(over)}"]
    return [f"+{write_number(over)}"] * bool(over) + [f"{MINUS}{write_number(under)}"] * bool(under)


def write_hours(minutes: int | None) -> str:
    """Return minutes as tenths of an hour, rounded half up, as the trade writes them: 90 is "1.5"."""
    return str((Decimal(minutes or 0) / 60).quantize(Decimal("0.1"), ROUND_HALF_UP))


def write_duration(minutes: int) -> str:
    """Return minutes as hours and minutes: 90 is "1:30"."""
    return f"{minutes // 60}:{minutes % 60:02d}"


def write_wind(direction: int | None, speed: int, gust: int | None, north: str = "") -> str:
    """Return "077° 10 kt, gusts 18 kt true"; without a direction "variable 3 kt". Degrees and knots."""
    # A wind from the north is 360 in a report, 000 is a calm.
    bearing = "variable" if direction is None else f"{direction or (360 if speed else 0):03d}°"
    gusts = f", gusts {gust} kt" if gust else ""
    return f"{bearing} {speed} kt{gusts}{f' {north}' if north and direction is not None else ''}"


def write_visibility(statute_miles: Decimal, *, metric: bool) -> str:
    """Return "5 SM", or where visibility is in kilometres "8.1 km (5 SM)", rounded up: less is never read as enough."""
    miles = f"{write_number(statute_miles)} SM"
    if not metric:
        return miles
    exact = statute_miles * KILOMETRES_PER_STATUTE_MILE
    return f"{write_number(exact.quantize(Decimal('0.1'), ROUND_CEILING))} km ({miles})"


def write_list(words: Iterable[str]) -> str:
    """Return "a, b and c"."""
    *first, last = [*words] or [""]
    return f"{', '.join(first)} and {last}" if first else last


MONTHS = "January|February|March|April|May|June|July|August|September|October|November|December"
ISO_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
LONG_DAY = re.compile(rf"\b0?(\d{{1,2}}) ({MONTHS}) (\d{{4}})\b")


def write_days_within(words: str) -> str:
    """Return words of a record with its days as people read them: of 2026-11-28 and 28 November 2026, 28 Nov 2026.

    For what a program wrote. What a person wrote or signed stays as it is.
    """
    words = ISO_DAY.sub(_readable, words)
    return LONG_DAY.sub(lambda found: f"{found[1]} {found[2][:3]} {found[3]}", words)


def _readable(found: re.Match[str]) -> str:
    try:
        return write_day(date.fromisoformat(found[0]))
    except ValueError:  # a number of that shape that is no day
        return found[0]
