"""Move every day in a text by a number of days: ISO dates, dates in words, and the day of a weather report. Pure."""

import calendar
import re
from datetime import date, timedelta

MONTHS = [name for name in calendar.month_name if name]
SHORT_MONTHS = [name[:3] for name in MONTHS]
# Not inside a longer word or number, such as the id of a record.
ISO = re.compile(r"(?<![\w-])(\d{4})-(\d\d)-(\d\d)(?![\d-])")
WORDS = re.compile(rf"\b(\d{{1,2}}) ({'|'.join(MONTHS)}|{'|'.join(SHORT_MONTHS)}) (\d{{4}})\b")
REPORT = re.compile(r"\b(ZZZZ )(\d\d)(\d{4}Z)")


def move_days(text: str, days: int) -> str:
    """Return a text with every date in it later by `days`; a number that is no date stays."""
    return WORDS.sub(lambda match: _move_words(match, days), ISO.sub(lambda match: _move_iso(match, days), text))


def move_report(text: str, flown_on: date) -> str:
    """Return a text whose weather report of the demo's aerodrome is of the day of the flight.

    A report names the day of the month alone (ICAO Annex 3, group YYGGggZ; from memory).
    """
    return REPORT.sub(rf"\g<1>{flown_on:%d}\g<3>", text)


def _move_iso(match: re.Match[str], days: int) -> str:
    year, month, day = map(int, match.groups())
    try:
        return (date(year, month, day) + timedelta(days)).isoformat()
    except ValueError:
        return match[0]  # a number in the form of a date


def _move_words(match: re.Match[str], days: int) -> str:
    names = MONTHS if match[2] in MONTHS else SHORT_MONTHS
    moved = date(int(match[3]), names.index(match[2]) + 1, int(match[1])) + timedelta(days)
    return f"{moved.day} {names[moved.month - 1]} {moved.year}"
