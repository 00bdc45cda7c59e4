"""Say a detail of a lesson as a person would type it: entries and undo speak of it so, and so does the audit."""

from datetime import UTC, datetime

from lessons.models import Lesson
from school.models import Aircraft, Runway


def detail_text(lesson: Lesson, name: str) -> str:
    """Return the value of a detail as a person would type it; empty when there is none."""
    value = getattr(lesson, name)
    if name.endswith("_minutes"):
        # Minutes and not tenths: 1:10 is no tenth of an hour, and undo would bring back another time.
        return f"{value // 60}:{value % 60:02d}" if value else ""
    if isinstance(value, datetime):
        return f"{value.astimezone(UTC):%H:%M}"
    if isinstance(value, Runway | Aircraft):
        return str(value.pk)
    # A wind of 0 is an observation (calm, or from north); any other 0 is an entry that nobody made.
    if value in (None, 0) and name not in {"wind_direction", "wind_speed_kt"}:
        return ""
    return "" if value is None else str(value)
