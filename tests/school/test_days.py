"""Days of a zone: over midnight, month and year, and on days whose clocks change.

Offsets are those of the IANA time zone database, as the package tzdata has it: Honolulu 10
hours behind UTC all the year, Tongatapu 13 ahead, Auckland 12 ahead and 13 in summer.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from school.days import day_of, day_of_optional, end_of, moment_on, start_of, zone_name, zone_names

HONOLULU, TONGATAPU, AUCKLAND = map(ZoneInfo, ("Pacific/Honolulu", "Pacific/Tongatapu", "Pacific/Auckland"))
CHICAGO, HAVANA, SANTIAGO = map(ZoneInfo, ("America/Chicago", "America/Havana", "America/Santiago"))
ZONES = (ZoneInfo("UTC"), HONOLULU, TONGATAPU, AUCKLAND, CHICAGO, HAVANA, SANTIAGO, ZoneInfo("Asia/Kolkata"))


@pytest.mark.parametrize(
    ("moment", "zone", "day"),
    [
        (datetime(2027, 1, 1, 9, 30, tzinfo=UTC), HONOLULU, date(2026, 12, 31)),  # 23:30 there
        (datetime(2027, 1, 1, 10, 0, tzinfo=UTC), HONOLULU, date(2027, 1, 1)),  # midnight there
        (datetime(2026, 12, 31, 10, 59, tzinfo=UTC), TONGATAPU, date(2026, 12, 31)),  # 23:59 there
        (datetime(2026, 12, 31, 11, 0, tzinfo=UTC), TONGATAPU, date(2027, 1, 1)),
        (datetime(2028, 2, 29, 11, 0, tzinfo=UTC), TONGATAPU, date(2028, 3, 1)),
        (datetime(2026, 12, 31, 11, 0, tzinfo=UTC), AUCKLAND, date(2027, 1, 1)),  # summer: 13 ahead
        (datetime(2026, 6, 30, 11, 0, tzinfo=UTC), AUCKLAND, date(2026, 6, 30)),  # winter: 12 ahead
    ],
)
def test_a_moment_lies_on_the_day_of_its_zone(moment: datetime, zone: ZoneInfo, day: date) -> None:
    assert day_of(moment, zone) == day_of_optional(moment, zone) == day
    assert start_of(day, zone) <= moment < end_of(day, zone)
    assert day_of_optional(None, zone) is None


@pytest.mark.parametrize(
    ("day", "zone", "hours"),
    [
        (date(2026, 3, 8), CHICAGO, 23),
        (date(2026, 11, 1), CHICAGO, 25),
        (date(2026, 9, 27), AUCKLAND, 23),
        (date(2026, 4, 5), AUCKLAND, 25),
        (date(2026, 3, 8), HAVANA, 23),  # 00:00 is skipped: the day begins at 01:00
        (date(2026, 11, 1), HAVANA, 25),  # 00:00 comes twice: the day begins with the first
        (date(2026, 3, 8), HONOLULU, 24),
    ],
)
def test_a_day_has_the_hours_that_its_clocks_give_it(day: date, zone: ZoneInfo, hours: int) -> None:
    assert end_of(day, zone) - start_of(day, zone) == timedelta(hours=hours)
    assert day_of(start_of(day, zone), zone) == day
    assert day_of(start_of(day, zone) - timedelta(microseconds=1), zone) == day - timedelta(days=1)


@given(st.datetimes(datetime(2020, 1, 1), datetime(2035, 12, 31), timezones=st.just(UTC)), st.sampled_from(ZONES))
def test_every_moment_lies_between_the_ends_of_its_day(moment: datetime, zone: ZoneInfo) -> None:
    day = day_of(moment, zone)
    assert start_of(day, zone) <= moment < end_of(day, zone) == start_of(day + timedelta(days=1), zone)


@given(st.dates(date(2020, 1, 1), date(2035, 12, 30)), st.times(), st.sampled_from(ZONES))
def test_a_clock_time_lies_on_its_day_unless_the_day_is_short(day: date, clock: time, zone: ZoneInfo) -> None:
    moment = moment_on(day, clock.replace(tzinfo=None), zone)
    assert moment.time() == clock.replace(tzinfo=None)
    short = end_of(day, zone) - start_of(day, zone) < timedelta(days=1)
    assert day_of(moment, zone) == day or (short and day_of(moment, zone) == day - timedelta(days=1))


def test_blocks_off_in_the_morning_of_auckland_lie_on_the_day_before_in_utc() -> None:
    assert moment_on(date(2026, 12, 3), time(20, 10), AUCKLAND) == datetime(2026, 12, 2, 20, 10, tzinfo=UTC)
    assert moment_on(date(2026, 12, 3), time(2, 0), HONOLULU) == datetime(2026, 12, 4, 2, 0, tzinfo=UTC)


def test_a_zone_is_named_by_its_letters_or_by_its_offset() -> None:
    at = datetime(2026, 7, 1, 12, tzinfo=UTC)
    names = [zone_name(at, zone) for zone in (UTC, HONOLULU, CHICAGO, TONGATAPU, ZoneInfo("Asia/Kathmandu"))]
    assert names == ["UTC", "HST", "CDT", "UTC+13:00", "UTC+05:45"]


def test_a_school_chooses_among_places_and_utc() -> None:
    assert zone_names()[0] == "UTC"
    assert {"Pacific/Auckland", "America/Argentina/Buenos_Aires"} <= set(zone_names())
    assert not {"Etc/GMT+10", "EST", "localtime", "Factory"} & set(zone_names())
