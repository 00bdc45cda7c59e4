"""The one place where a moment becomes a day: a day of the school's own time zone.

Moments are stored in UTC. A day (of a lesson, of a signature, of "today") is a calendar day where the school is. A bulk
read takes the zone once and hands it on: `day_of(moment, zone)` asks for nothing.
"""

from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from zoneinfo import ZoneInfo, available_timezones

ONE_DAY = timedelta(days=1)


def day_of(moment: datetime, zone: tzinfo) -> date:
    """Return the calendar day of a moment in a zone."""
    return moment.astimezone(zone).date()


def day_of_optional(moment: datetime | None, zone: tzinfo) -> date | None:
    """Return the day of a moment that may not have come yet, such as a withdrawal."""
    return moment.astimezone(zone).date() if moment else None


def start_of(day: date, zone: tzinfo) -> datetime:
    """Return the first moment of a day, in UTC. Where midnight is skipped, it is the moment of the change."""
    # fold=0 picks the earlier of two midnights; of a midnight that was skipped it gives the moment of the change.
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def end_of(day: date, zone: tzinfo) -> datetime:
    """Return the first moment after a day, in UTC: a day has 23, 24 or 25 hours."""
    return start_of(day + ONE_DAY, zone)


def moment_on(day: date, clock: time, zone: tzinfo) -> datetime:
    """Return the moment with this clock time in UTC that lies on a day of the zone.

    Where two do, on a day of 25 hours, it is the first; where none does, on one of 23, the nearest before it.
    """
    # The UTC calendar is up to a day ahead of the zone's or behind it.
    nearest = [datetime.combine(day + ONE_DAY * shift, clock, UTC) for shift in (-1, 0, 1)]
    begun = [moment for moment in nearest if day_of(moment, zone) <= day]
    return next((moment for moment in begun if day_of(moment, zone) == day), begun[-1])


def zone_name(moment: datetime, zone: tzinfo) -> str:
    """Return what a page writes behind a time: "UTC", "HST", or "UTC+13:00" where the zone has no letters."""
    local = moment.astimezone(zone)
    name, offset = local.tzname() or "", f"{local:%z}"
    return name if name.isalpha() else f"UTC{offset[:3]}:{offset[3:5]}"


@lru_cache(maxsize=1)
def zone_names() -> tuple[str, ...]:
    """Return the names of the IANA time zone database that a school may choose, in order."""
    # Places and UTC only: the sign of "Etc/GMT+10" misleads (it is behind UTC), and "EST" knows no daylight saving.
    places = (name for name in available_timezones() if "/" in name and not name.startswith("Etc/"))
    return ("UTC", *sorted(places))


def zone_of(name: str) -> ZoneInfo:
    """Return a zone by its name; zoneinfo itself keeps each one in memory."""
    return ZoneInfo(name)
