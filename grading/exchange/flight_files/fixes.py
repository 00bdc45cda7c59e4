"""Fixes of a flight track, and what refuses a file. No Django: it runs in the process that reads strangers' files."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import NamedTuple

MAX_BYTES = 16 * 2**20
MAX_FIXES = 60_000
MAX_SPAN_SECONDS = 24 * 3600
MAX_BAD_LINES = 200
# A receiver on an aeroplane that circles an aerodrome is not outside these, metres.
LOWEST_M, HIGHEST_M = -1000.0, 20_000.0
# What a file says where it has no year yet: receivers count from 1980, and no file is of a later century.
EARLIEST_S, LATEST_S = 315_532_800.0, 4_102_444_800.0


class BadTrack(ValueError):
    """The file is no track that can be read; the message says in a sentence why, and what to do."""


class Fix(NamedTuple):
    """One position: seconds since 1970 (UTC), degrees, height by the receiver and by pressure in metres or None."""

    at: float
    latitude: float
    longitude: float
    height: float | None = None
    pressure_height: float | None = None


@dataclass
class TrackRead:
    """What a reader found: fixes in the order of the file, and how many lines or points were left out."""

    form: str
    fixes: list[Fix]
    left_out: int = 0

    def add(self, fix: Fix | None) -> None:
        """Take a fix, or count one that lacks its time or lies outside the earth."""
        if fix is None or not is_possible(fix):
            self.left_out += 1
            return
        self.fixes.append(fix)
        if len(self.fixes) > MAX_FIXES:
            raise BadTrack(
                f"This file has more than {MAX_FIXES:,} positions: cut it to the lesson, or export less often."
            )


def is_possible(fix: Fix) -> bool:
    """Return whether time, place and heights are such as a receiver writes; NaN is none."""
    heights = [row for row in (fix.height, fix.pressure_height) if row is not None]
    return (
        EARLIEST_S <= fix.at <= LATEST_S
        and -90 <= fix.latitude <= 90
        and -180 <= fix.longitude <= 180
        and all(LOWEST_M <= row <= HIGHEST_M for row in heights)
    )


@contextmanager
def unreadable(sentence: str, *kinds: type[Exception]) -> Iterator[None]:
    """Turn what a library raises about a file into a refusal; a refusal of our own passes."""
    try:
        yield
    except BadTrack:
        raise
    except kinds as error:
        raise BadTrack(sentence) from error
