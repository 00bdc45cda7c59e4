"""Limit the flight training an instructor gives in 24 consecutive hours: 14 CFR 61.195(a), at most 8 hours. Pure.

The window rolls: it may begin at any moment, not at midnight.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

# Law and no policy of the school: no standard changes them.
MAX_MINUTES = 8 * 60
WINDOW = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class TrainingPeriod:
    """Describe one lesson of flight training: aware block times, end after begin, and its minutes of training."""

    begin: datetime
    end: datetime
    minutes: int
    name: str = ""

    def minutes_within(self, begin: datetime, end: datetime) -> float:
        """Return its minutes that fall into a window, spread evenly over the block time."""
        shared = min(self.end, end) - max(self.begin, begin)
        return max(shared / (self.end - self.begin), 0.0) * self.minutes


@dataclass(frozen=True, slots=True)
class ExcessPeriod:
    """Describe 24 hours with more training than the limit, and the lessons in them."""

    begin: datetime
    end: datetime
    minutes: int
    lessons: tuple[TrainingPeriod, ...]


def find_worst_window(lessons: Iterable[TrainingPeriod], around: TrainingPeriod | None = None) -> ExcessPeriod | None:
    """Return the 24 hours with the most flight training, if that is more than 8 hours; the first on a tie.

    around: consider only windows that contain some of this lesson.

    The sum changes its slope only where a lesson begins or ends at an edge of the window, so the most lies
    at a window that begins or ends there.
    """
    given = sorted(lessons, key=lambda row: row.begin)
    begins = sorted(
        {row.begin for row in given}
        | {row.end for row in given}
        | {moment - WINDOW for row in given for moment in (row.begin, row.end)}
    )
    most: ExcessPeriod | None = None
    for begin in begins:
        end = begin + WINDOW
        inside = [row for row in given if row.begin < end and row.end > begin]
        # The page of a lesson shows what this lesson is a part of, and not an excess of the day before.
        if around is not None and around not in inside:
            continue
        # Rounded, so that eight hours to the minute are not over the limit by an error of the fractions.
        minutes = round(sum(row.minutes_within(begin, end) for row in inside), 6)
        if minutes > MAX_MINUTES and (most is None or minutes > most.minutes):
            most = ExcessPeriod(begin, end, int(-(-minutes // 1)), tuple(inside))
    return most


def find_excesses(lessons: Iterable[TrainingPeriod]) -> list[ExcessPeriod]:
    """Return every stretch of days with more than the limit, each by its worst window, oldest first."""
    excesses = []
    for left in _dense_stretches(lessons):
        while (excess := find_worst_window(left)) is not None:
            excesses.append(excess)
            # Remove at least one lesson in each round, or the loop would find the same window for ever.
            taken = {row for row in excess.lessons if row.end <= excess.end} or set(excess.lessons)
            left = [row for row in left if row not in taken]
    return sorted(excesses, key=lambda row: row.begin)


def _dense_stretches(lessons: Iterable[TrainingPeriod]) -> Iterator[list[TrainingPeriod]]:
    """Yield stretches of lessons, in order, outside which no window can exceed the limit.

    A window whose first lesson is this one holds only lessons that begin before 24 hours after its end; while
    these together give no more than the most, no such window can. One pass, so that years of lessons are quick.
    """
    given = sorted(lessons, key=lambda row: row.begin)
    minutes, after, taken_to = 0, 0, 0
    stretch: list[TrainingPeriod] = []
    for place, first in enumerate(given):
        while after < len(given) and given[after].begin < first.end + WINDOW:
            minutes += given[after].minutes
            after += 1
        if minutes > MAX_MINUTES:
            if place >= taken_to and stretch:
                yield stretch
                stretch = []
            stretch += given[max(place, taken_to) : after]
            taken_to = after
        minutes -= first.minutes
    if stretch:
        yield stretch
