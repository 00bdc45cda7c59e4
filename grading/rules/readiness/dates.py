"""Compute the dates of the trade from the day they count from. No clock."""

import calendar
from datetime import date

# Law and no policy, so no standard holds them: 14 CFR 61.23(d).
AGE_OF_SHORTER_MEDICAL = 40
MONTHS_UNDER_40, MONTHS_FROM_40 = 60, 24
# Once: the calendar formats a date for each name, and a verdict names many days.
MONTH_NAMES = tuple(name[:3] for name in calendar.month_name)


def age_on(born: date, on: date) -> int:
    """Return the age in whole years. A birthday of 29 February falls on 1 March in a common year."""
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))


def medical_expiry(born: date, examined: date) -> date:
    """Return the last day of a medical for student privileges, any class.

    It is the last day of the 60th month after the month of the examination, or of the 24th for a person who
    was 40 or more on the day of the examination (14 CFR 61.23(d)(3); (d)(1)(iv)-(v), (d)(2)(ii)-(iii)
    for first and second class).
    """
    months = MONTHS_FROM_40 if age_on(born, examined) >= AGE_OF_SHORTER_MEDICAL else MONTHS_UNDER_40
    # Months are counted from 0 here, so that December does not run into the next year.
    years, month = divmod(examined.month - 1 + months, 12)
    year = examined.year + years
    return date(year, month + 1, calendar.monthrange(year, month + 1)[1])


def long_date(day: date) -> str:
    """Return a day as 3 Jun 2026, as pages and paper write it (school/formats.py)."""
    return f"{day.day} {MONTH_NAMES[day.month]} {day.year}"
