"""How days, times, numbers and units are written."""

from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from school import formats


def test_days_and_times_name_their_year_and_their_zone() -> None:
    at = datetime(2026, 11, 8, 14, 5, tzinfo=UTC)
    assert formats.write_day(at.date()) == "8 Nov 2026"
    assert formats.write_moment(at) == "8 Nov 2026, 14:05 UTC"
    assert formats.write_moment(at, ZoneInfo("America/Chicago")) == "8 Nov 2026, 08:05 CST"
    assert formats.write_clock(at) == "14:05"


@pytest.mark.parametrize(
    ("value", "text"),
    [(1600, "1,600"), (-5, "−5"), (5.0, "5"), (0.5, "0.5"), (-0.04, "0"), (Decimal("2300.0"), "2,300"), (100, "100")],
)
def test_a_number_has_its_thousands_a_minus_sign_and_no_needless_zero(value: float, text: str) -> None:
    assert formats.write_number(value) == text


def test_signs_and_tolerances() -> None:
    assert [formats.write_signed(value) for value in (4, -5, 0)] == ["+4", "−5", "0"]
    assert formats.write_tolerance(10, 5) == ["+10", "−5"]
    assert formats.write_tolerance(100, 100) == ["±100"]
    assert formats.write_tolerance(400, 0) == ["+400"]


def test_wind_has_three_digits_and_its_north() -> None:
    assert formats.write_wind(77, 10, None) == "077° 10 kt"
    assert formats.write_wind(77, 10, 18, "true") == "077° 10 kt, gusts 18 kt true"
    assert formats.write_wind(0, 4, None) == "360° 4 kt"
    assert formats.write_wind(0, 0, None) == "000° 0 kt"
    assert formats.write_wind(None, 3, None, "true") == "variable 3 kt"


def test_hours_are_tenths_rounded_half_up() -> None:
    assert [formats.write_hours(minutes) for minutes in (90, 3, 2, None)] == ["1.5", "0.1", "0.0", "0.0"]


def test_visibility_in_kilometres_is_rounded_up() -> None:
    """1 mi = 1.609344 km exactly: 5,280 ft of 0.3048 m (NIST Special Publication 811, from memory)."""
    assert formats.write_visibility(Decimal("5.0"), metric=False) == "5 SM"
    assert formats.write_visibility(Decimal("5.0"), metric=True) == "8.1 km (5 SM)"


def test_days_within_the_words_of_a_program_are_written_as_people_read_them() -> None:
    words = "recent experience until 2027-09-24; met since 04 November 2026, 2026-99-99 and 28 May"
    said = "recent experience until 24 Sep 2027; met since 4 Nov 2026, 2026-99-99 and 28 May"
    assert formats.write_days_within(words) == said
