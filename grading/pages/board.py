"""The board shows every student in one row: who must act next, the nearest gap in words, the last ten of each part."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple
from urllib.parse import urlencode
from uuid import UUID

from django.utils.functional import cached_property

from grading.models import StoredVerdict
from grading.reading.board_query import BoardRequest
from grading.reading.next_act import NextAct, day_words, days_words
from grading.reading.release_status import EXPIRING_DAYS, ReleasePhase
from grading.reading.student_summary import LESSONS_WITHOUT_PROGRESS
from grading.rules.readiness.facts import COUNTED_PARTS
from school import csv_text
from school.fragment_cache import CachedFragment

ROWS_PER_PAGE = 50
ROW_FORMS = (("compact", "Compact rows"), ("roomy", "Roomy rows"))
# A reason may be a page long: the row shows its beginning, readiness and the CSV all of it.
MAX_GAP_LENGTH = 110
SORT_ORDERS = (("", "Who must act"), ("name", "By name"), ("open", "By what is open"), ("flown", "Longest not flown"))
CSV_COLUMNS = (
    "Student",
    "Number",
    "Type",
    "Instructor",
    "Next unit",
    "State",
    "Nearest gap",
    "Open",
    "What is open",
    "Last flown",
    "Released until",
    "Unsigned lessons",
)
ACT_WORDS = {
    NextAct.WITHDRAWN: "release withdrawn",
    NextAct.DECISION: "awaiting a decision",
    NextAct.RELEASE_ENDS: "release expires soon",
    NextAct.EXPIRED: "release expired",
    NextAct.ENDORSEMENT: "endorsement missing",
    NextAct.DOCUMENT: "document",
    NextAct.CLOSE: "close",
    NextAct.SLIPPED: "slipped",
    NextAct.STUCK: "stuck",
    NextAct.BEFORE_SOLO: "before first solo",
    NextAct.RELEASED: "released",
    NextAct.NO_CIRCUITS: "no circuits yet",
}
OPEN_ACTS = {NextAct.ENDORSEMENT, NextAct.CLOSE, NextAct.SLIPPED, NextAct.STUCK}
# A release to sign, to renew or to look at again.
CHIEF_ACTS = {NextAct.WITHDRAWN, NextAct.DECISION, NextAct.RELEASE_ENDS, NextAct.EXPIRED}


class Ten(NamedTuple):
    """The last ten attempts of a part. `outcomes`: "1" to standard, "0" not, oldest first; `nearest`: the gap shown."""

    part: str
    outcomes: str
    good: int
    met: bool
    more: int
    nearest: bool


# This tuple is the key of the cached row: what a row shows and this lacks would be shown stale.
class BoardRowContent(NamedTuple):
    """Everything that the row of a student shows: the template is given this and nothing else."""

    uid: UUID
    name: str
    state: str
    state_words: str
    chief_acts: bool
    begins_group: bool
    unit: int
    unit_words: str
    gap: str
    tens: tuple[Ten, ...]
    release: str
    release_calls: bool
    instructor: str
    flown: str
    has_long_gap: bool


@dataclass(frozen=True)
class BoardRow:
    """A student on the board. `begins_group`: another group of those who must act stands above."""

    stored: StoredVerdict
    begins_group: bool
    on: date

    @property
    def row(self) -> dict[str, Any]:
        content: dict[str, Any] = self.stored.row
        return content

    @property
    def act(self) -> NextAct:
        return NextAct(self.row["act"])

    @cached_property
    def last_flown(self) -> date | None:
        return date.fromisoformat(self.row["last_flown"]) if self.row["last_flown"] else None

    @property
    def fragment(self) -> CachedFragment:
        """Return the part of the page for grading/_board_row.html."""
        # Keyed by everything the row shows and not by the stamp of the verdict: a name or another day changes a row
        # whose verdict stays as it is.
        content = self.content
        return CachedFragment(("board row", content), lambda: {"content": content})

    @property
    def content(self) -> BoardRowContent:
        days = (self.on - self.last_flown).days if self.last_flown else None
        enrolment = self.stored.enrolment
        return BoardRowContent(
            uid=enrolment.uid,
            name=enrolment.student.name,
            state=_state(self.act),
            state_words=ACT_WORDS[self.act],
            chief_acts=self.act in CHIEF_ACTS,
            begins_group=self.begins_group,
            unit=self.row["unit"],
            unit_words=self.row["here"],
            gap=textwrap.shorten(self.row["gap"], MAX_GAP_LENGTH, placeholder=" …"),
            tens=tuple(self._tens()),
            release=_release_cell(self.row["release"]) or ("awaiting" if self.act is NextAct.DECISION else ""),
            release_calls=self.act in CHIEF_ACTS,
            instructor=enrolment.instructor.family_name,
            flown="–" if days is None else days_words(days),
            # From the stored row: it is the limit of the standard that the verdict was derived by.
            has_long_gap=days is not None and days > self.row["long_gap_days"],
        )

    def _tens(self) -> Iterator[Ten]:
        for part in COUNTED_PARTS:
            ten, nearest = self.row["tens"][part], part == self.row["gap_part"]
            yield Ten(part, ten["outcomes"], ten["good"], ten["met"], ten["more"] if nearest else 0, nearest)


def _release_cell(release: dict[str, Any] | None) -> str:
    """Return 'until 28 Dec 2026', 'expired 5 Nov 2026' or 'withdrawn'; empty before the first release."""
    if release is None:
        return ""
    if release["phase"] == ReleasePhase.WITHDRAWN:
        return "withdrawn, not read" if release["unconfirmed"] else "withdrawn"
    verb = "expired" if release["phase"] == ReleasePhase.EXPIRED else "until"
    return f"{verb} {day_words(date.fromisoformat(release['until']))}"


def _state(act: NextAct) -> str:
    """Return the mark of a group: a seal on its line, or a triangle."""
    return {
        NextAct.WITHDRAWN: "withdrawn",
        NextAct.DECISION: "waiting",
        NextAct.RELEASE_ENDS: "signed",
        NextAct.RELEASED: "signed",
        NextAct.EXPIRED: "lapsed",
        NextAct.DOCUMENT: "lapsed",
    }.get(act, "open" if act in OPEN_ACTS else "before")


def board_rows(stored: Iterable[StoredVerdict], on: date, *, grouped: bool) -> list[BoardRow]:
    """Return the rows of a page; `grouped`: they come by who must act, so that a line can part the groups."""
    rows, before = [], None
    for each in stored:
        rows.append(BoardRow(each, grouped and before is not None and each.row["act"] != before, on))
        before = each.row["act"]
    return rows


class FilterKey(NamedTuple):
    """A count on the board that is a link: its address keeps what else was asked for."""

    value: str
    label: str
    short: str
    number: int
    detail: str
    mark: str
    query: str
    chosen: bool


def filter_keys(asked: BoardRequest, counts: dict[str, int], unsigned: list[tuple[str, int]]) -> list[FilterKey]:
    """Return the filters with how many match each, those who must act first."""
    who = ", ".join(f"{name} {count}" for name, count in unsigned[:3])
    further = f" and {len(unsigned) - 3} more" if len(unsigned) > 3 else ""
    gone = f"{counts['withdrawn']} withdrawn" + (f", {counts['unread']} not read" if counts["unread"] else "")
    close = "at most 2 requirements open"
    if counts["unendorsed"]:
        close += f", {counts['unendorsed']} to be endorsed"
    ends = f"within {EXPIRING_DAYS} days; {counts['expired']} expired"
    rows = (
        ("", "All students", "All", "", ""),
        ("decision", "Awaiting decision", "Awaiting", gone, "waiting"),
        ("close", "Close", "Close", close, "open"),
        ("stuck", "Stuck", "Stuck", f"no progress in {LESSONS_WITHOUT_PROGRESS} lessons", "stuck"),
        ("slipped", "Slipped", "Slipped", "was to standard before", "slipped"),
        ("documents", "Documents", "Documents", f"{counts['stopped']} expired: no solo", "lapsed"),
        ("unsigned", "Unsigned", "Unsigned", who + further, "not_asked"),
        ("expiring", "Release expiring", "Expiring", ends, "lapsed"),
        ("released", "Released", "Released", "", "signed"),
    )
    return [
        FilterKey(value, label, short, counts[value], detail, mark, query_text(asked._replace(show=value)),
                  asked.show == value)
        for value, label, short, detail, mark in rows
    ]  # fmt: skip


class SavedView(NamedTuple):
    """A view of the reader's own: its name, its address, and whether it is the one shown."""

    name: str
    query: str
    chosen: bool


def saved_views(stored: Sequence[dict[str, Any]], asked: BoardRequest) -> list[SavedView]:
    """Return the views of an account; a field that is not known any more selects as an empty one does."""
    views = []
    for row in stored:
        view = BoardRequest(**{name: row["asked"].get(name, "") for name in BoardRequest._fields})
        views.append(SavedView(row["name"], query_text(view), view == asked._replace(q="")))
    return views


def query_text(asked: BoardRequest, page: int = 1) -> str:
    """Return what was asked for as the query of an address, '?show=close' and the like, without what is empty."""
    parts = {name: value for name, value in asked._asdict().items() if value} | ({"page": page} if page > 1 else {})
    return f"?{urlencode(parts)}"


def render_csv(stored: Iterable[StoredVerdict], unsigned: dict[int, int]) -> str:
    """Return the table as CSV, one line a student. `unsigned`: how many lessons wait, by enrolment."""
    # Through csv_text: typed text that begins with “=” would run as a formula in the reader's spreadsheet.
    lines = [csv_text.format_line(CSV_COLUMNS)]
    for each in stored:
        enrolment, row = each.enrolment, each.row
        cells = (
            enrolment.student.name,
            enrolment.student.reference,
            enrolment.aircraft_type.name,
            enrolment.instructor.name,
            row["here"],
            ACT_WORDS[NextAct(row["act"])],
            row["gap"],
            str(row["open"]),
            row["open_words"],
            row["last_flown"] or "",
            row["released"]["until"] if row["released"] else "",
            str(unsigned.get(each.enrolment_id, 0)),
        )
        lines.append(csv_text.format_line(cells))
    return "".join(lines)
