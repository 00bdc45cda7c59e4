"""This module says for how long the positions of flight tracks are kept, and whose time is over."""

from datetime import date

from django.db.models import QuerySet

from grading.models import FlightTrack, TrackTerm

DEFAULT_MONTHS, LEAST_MONTHS, MOST_MONTHS = 24, 1, 60
LAST_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def track_months() -> int:
    """Return for how many months after a lesson the positions of its tracks are kept. One query."""
    newest = TrackTerm.objects.order_by("-pk").values_list("months", flat=True).first()
    return DEFAULT_MONTHS if newest is None else newest


def tracks_past_term(on: date, months: int | None = None) -> QuerySet[FlightTrack]:
    """Return the tracks that still have positions, of lessons so long ago; `months`: instead of the school's."""
    last = months_before(on, track_months() if months is None else months)
    return FlightTrack.objects.filter(lesson__on__lt=last).exclude(ways=b"")


def months_before(day: date, months: int) -> date:
    """Return the same day of an earlier month, its last day where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    # 28 days in every February: a track of the 29th is then kept a day longer, never a day too short.
    return date(year, month + 1, min(day.day, LAST_DAYS[month]))
