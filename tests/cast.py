"""The cast of the suite, and a school small enough to think about.

Amelia is the chief instructor, Bert the instructor of Dora, Cleo another instructor, Dora a student,
Emil another student who must never see Dora's things, Frida keeps the records.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

SECRET = "the-secret-of-the-cast"


@dataclass
class Cast:
    amelia: Any
    bert: Any
    cleo: Any
    dora: Any
    emil: Any
    frida: Any
    enrolment: Any
    other_enrolment: Any
    type: Any
    aircraft: Any
    runway: Any
    units: dict[int, Any]
    today: date

    def at(self, hour: int = 12, days_ago: int = 0) -> datetime:
        day = self.today - timedelta(days=days_ago)
        return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
