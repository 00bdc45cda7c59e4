"""Parse the typed entries of a lesson, and format them again."""

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from lessons.rules.units import MINUTES_PER_DAY
from school.days import moment_on

# Days outside are typing mistakes, and adding a term to a day near the calendar's end would overflow.
EARLIEST_DAY, LATEST_DAY = date(1900, 1, 1), date(2100, 12, 31)


def is_plausible_date(day: date) -> bool:
    """Return whether a record may contain this day."""
    return EARLIEST_DAY <= day <= LATEST_DAY


class DayField(forms.DateField):
    """A day of the calendar, typed or chosen, from 1900 to 2100."""

    def __init__(self, **how: Any) -> None:
        # A date input takes its value in this form only, whatever the page shows to the reader.
        super().__init__(widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **how)

    def validate(self, value: date | None) -> None:
        super().validate(value)
        if value is not None and not is_plausible_date(value):
            raise ValidationError(
                f"{value:%Y-%m-%d} lies outside {EARLIEST_DAY.year} to {LATEST_DAY.year}: check the year."
            )


class HoursField(forms.Field):
    """Hours as the trade writes them, "1.2" or "1:12", stored as whole minutes.

    A tenth is six minutes, so every tenth is a whole number of minutes and nothing is lost.
    """

    max_minutes, digits, whole = MINUTES_PER_DAY, 2, "more than a day: enter the hours of this lesson"

    def to_python(self, value: Any) -> int:
        text = str(value or "").strip().replace(",", ".")
        if not text:
            return 0
        # [0-9] and bounded: \d also matches the digits of other scripts, and no length must reach int() or Decimal().
        if clock := re.fullmatch(rf"([0-9]{{1,{self.digits}}}):([0-5][0-9])", text):
            minutes = int(clock[1]) * 60 + int(clock[2])
        elif re.fullmatch(rf"[0-9]{{0,{self.digits}}}(\.[0-9]{{1,2}})?", text):
            # Half up, as people round: the default of Decimal is half to even.
            minutes = int((Decimal(text) * 60).quantize(Decimal(1), ROUND_HALF_UP))
        else:
            raise ValidationError(f"“{text[:20]}” is not a time in hours: write 1.2 or 1:12.")
        if minutes > self.max_minutes:
            raise ValidationError(f"“{text}” is {self.whole}.")
        return minutes


class TotalHoursField(HoursField):
    """Hours of many lessons, up to 9,999."""

    max_minutes, digits, whole = 9999 * 60, 4, "more than 9,999 hours"


class TimeOfDayField(forms.Field):
    """A time of day in UTC, "13:05" or "1305"; None when empty."""

    def to_python(self, value: Any) -> time | None:
        text = str(value or "").strip()
        if not text:
            return None
        clock = re.fullmatch(r"([01]?\d|2[0-3]):?([0-5]\d)", text)
        if not clock:
            raise ValidationError(f"“{text}” is not a time: write 13:05, in UTC.")
        return time(int(clock[1]), int(clock[2]))


class NumberField(forms.Field):
    """A number within bounds; None when empty."""

    def __init__(self, *, least: int, most: int, what: str) -> None:
        super().__init__(required=False)
        self.least, self.most, self.what = least, most, what

    def to_python(self, value: Any) -> int | None:
        text = str(value or "").strip()
        if not text:
            return None
        if not re.fullmatch(r"\d{1,4}", text) or not self.least <= int(text) <= self.most:
            raise ValidationError(f"“{text[:20]}” is not {self.what}: write {self.least} to {self.most}.")
        return int(text)


def parse_decimal(text: str) -> Decimal:
    """Parse a number read at a gate, to one decimal place."""
    # "1,200" is thousands in English and a fraction elsewhere: a wrong guess would falsify the record.
    if re.fullmatch(r"\s*-?\d{1,3}(,\d{3})+\s*", text):
        raise ValidationError(f"“{text[:20]}” could mean thousands or decimals: write it without the comma.")
    try:
        number = Decimal(text.strip().replace(",", ".").replace("−", "-"))
    except InvalidOperation:
        raise ValidationError(f"“{text[:20]}” is not a number.") from None
    # Decimal reads “NaN” and “Infinity” as numbers.
    if not number.is_finite() or abs(number) >= 100_000:
        raise ValidationError(f"“{text[:20]}” is out of range.")
    return number.quantize(Decimal("0.1"), ROUND_HALF_UP)


def combine_utc(day: date, clock: time, zone: tzinfo, *, after: datetime | None = None) -> datetime:
    """Return the moment of a UTC clock time on a day of the zone, or the next one after `after` where that is given.

    Only clock times are typed: 20:10 UTC of a lesson of 3 June in Auckland is a moment of 2 June in UTC.
    """
    if after is None:
        return moment_on(day, clock, zone)
    moment = datetime.combine(after.astimezone(UTC).date(), clock, UTC)
    return moment if moment > after else moment + timedelta(days=1)
