"""Lay out logbook lines from their sealed content: strips to cut out, or pages whose totals are carried forward.

Time is in hours and minutes, so that the lines add up to the totals without a rest.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from math import ceil
from typing import Any
from unicodedata import east_asian_width

from grading.sheets.log_columns import in_sentence
from grading.sheets.logbook_content import amounts_of, sum_amounts
from grading.sheets.progress_layout import is_long
from grading.sheets.signs import Mark, Signer, Signs
from school.formats import write_day, write_duration

Plain = Mapping[str, Any]
# Of a wide page, in lines of 8 points: what its rows may take beside head, totals and the notes below.
FIRST_PAGE_LINES, PAGE_LINES = 35.0, 39.0
ROW_PADDING = 0.35
# Fewer than the column of remarks holds of usual words, so that a page is never longer than was counted.
REMARK_CHARACTERS, SIGNER_CHARACTERS, AIRCRAFT_CHARACTERS = 43, 18, 13


@dataclass(frozen=True)
class Amounts:
    """What a line adds to the columns, as text; empty where nothing. Hours and minutes."""

    total: str
    dual: str
    solo: str
    day: str
    night: str
    instrument: str
    ground: str
    takeoffs: str
    landings: str

    @property
    def cells(self) -> list[str]:
        return [self.total, self.dual, self.solo, self.day, self.night, self.instrument, self.ground,
                self.takeoffs, self.landings]  # fmt: skip


@dataclass(frozen=True)
class LogbookLine:
    plain: Plain
    day: str
    aircraft: list[str]
    place: str
    amounts: Amounts
    training: str
    role: str
    signer: Signer
    mark: Mark
    mark_of_day: Mark


@dataclass(frozen=True)
class CarriedLine:
    words: str
    amounts: Amounts


@dataclass(frozen=True)
class LogbookPage:
    """Lines of one page and their sums: of this page, brought forward, to date."""

    carried: list[CarriedLine]
    lines: list[LogbookLine]
    sums: list[tuple[str, Amounts]]

    @property
    def signers(self) -> list[Signer]:
        return list(dict.fromkeys(line.signer for line in self.lines))

    @property
    def wordings(self) -> list[str]:
        """Return what was signed, every wording once."""
        return list(dict.fromkeys(line.plain["signature"]["meaning"] for line in self.lines))


@dataclass(frozen=True)
class LogbookLayout:
    signs: Signs
    carried: list[CarriedLine]
    lines: list[LogbookLine]
    pages: list[LogbookPage]
    total: Amounts
    long_name: bool


def lay_out_logbook(sheet: Plain) -> LogbookLayout:
    signs = Signs()
    lines = [_line(row, signs) for row in sheet["lessons"]]
    carried = list(_carried(sheet))
    forward = sum_amounts(_forward(sheet))
    total = sum_amounts([forward, *map(amounts_of, sheet["lessons"])])
    pages = list(_pages(lines, carried, forward))
    return LogbookLayout(signs, carried, lines, pages, write_amounts(total, zeros=True), is_long(sheet["student"]))


def write_amounts(minutes: Mapping[str, int], *, zeros: bool = False) -> Amounts:
    """Return the columns of some minutes and counts. zeros: written out, in sums."""
    flown = minutes["dual"] + minutes["solo"]
    # What was flown at night is part of dual and solo; the rest was flown by day.
    by_day = max(flown - minutes["night"], 0)
    times = (flown, minutes["dual"], minutes["solo"], by_day, minutes["night"], minutes["instrument"],
             minutes["ground"])  # fmt: skip
    written = [write_duration(time) if time or zeros else "" for time in times]
    counts = [str(count) if count or zeros else "" for count in (minutes["takeoffs"], minutes["landings"])]
    return Amounts(*written, *counts)


def _forward(sheet: Plain) -> list[Plain]:
    return [sheet["before"], *([sheet["credited"]] if sheet["credited"] else [])]


def _carried(sheet: Plain) -> Iterator[CarriedLine]:
    """Yield what is carried forward, each source a line of its own."""
    if credited := sheet["credited"]:
        day = write_day(date.fromisoformat(credited["on"]))
        words = f"Carried forward: earlier training, as credited by {credited['by']} on {day}"
        yield CarriedLine(words, write_amounts(credited))
    if sheet["before"]["lessons"]:
        words = f"Carried forward: lessons of this record before lesson {sheet['first']}"
        yield CarriedLine(words, write_amounts(sheet["before"]))


def _line(row: Plain, signs: Signs) -> LogbookLine:
    minutes = row["minutes"]
    training = ", ".join(title if not place else in_sentence(title) for place, title in enumerate(row["training"]))
    words = f"Unit {row['unit']['number']}, {row['unit']['title']}{f': {training}' if training else ''}."
    aircraft = (
        [row["aircraft_type"], row["aircraft"]] if row["aircraft"] else ["ground lesson" if minutes["ground"] else "–"]
    )
    # A solo flight is no training received: its signature says that the instructor supervised it.
    role = "Training given by" if minutes["dual"] or minutes["ground"] or not minutes["solo"] else "Solo supervised by"
    return LogbookLine(
        row,
        write_day(date.fromisoformat(row["date"])),
        aircraft,
        (row["runway"] or "").partition(" ")[0],
        write_amounts(amounts_of(row)),
        words,
        role,
        signs.signer(row["signature"]),
        signs.mark(row["signature"]),
        signs.mark(row["signature"], row["date"]),
    )


def _pages(lines: list[LogbookLine], carried: list[CarriedLine], forward: Plain) -> Iterator[LogbookPage]:
    brought = dict(forward)
    for number, chunk in enumerate(_chunks(lines, FIRST_PAGE_LINES - len(carried) * (1 + ROW_PADDING))):
        here = sum_amounts(amounts_of(line.plain) for line in chunk)
        to_date = sum_amounts([brought, here])
        sums = [("This page", here), ("Brought forward", brought), ("To date", to_date)]
        written = [(words, write_amounts(amounts, zeros=True)) for words, amounts in sums]
        yield LogbookPage(carried if not number else [], chunk, written)
        brought = to_date


def _chunks(lines: list[LogbookLine], room: float) -> Iterator[list[LogbookLine]]:
    """Yield the lines page by page, at least one page."""
    chunk: list[LogbookLine] = []
    left = room
    for line in lines:
        needed = _height(line)
        if chunk and needed > left:
            yield chunk
            chunk, left = [], PAGE_LINES
        chunk.append(line)
        left -= needed
    yield chunk


def _height(line: LogbookLine) -> float:
    """Return the height of a row in lines of text, rather too much than too little."""
    columns = [(line.training, REMARK_CHARACTERS), (line.plain["signature"]["certificate_number"], SIGNER_CHARACTERS)]
    columns += [(words, AIRCRAFT_CHARACTERS) for words in line.aircraft]
    training, certificate, *aircraft = (ceil(_width(words) / fit) for words, fit in columns)
    return max(2, training, certificate + 1, sum(aircraft)) + ROW_PADDING


def _width(words: str) -> int:
    return sum(2 if east_asian_width(letter) in "WF" else 1 for letter in words)
