"""The board shows every student in one row: who is close, stuck, slipped back, short of a paper or of a signature."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.utils.functional import cached_property

from grading.models import Release, StoredVerdict
from grading.reading.expiring import Expiry, expiries_of_student
from grading.reading.student_summary import last_flown_words, student_group
from lessons.models import Enrolment
from school import csv_text
from school.fragment_cache import CachedFragment

FILTERS = (
    ("", "All"),
    ("close", "Close"),
    ("stuck", "Stuck"),
    ("slipped", "Slipped back"),
    ("papers", "Papers run out"),
    ("unsigned", "Unsigned"),
)
SORT_ORDERS = (("name", "by name"), ("open", "by what is open"), ("flown", "by last flight"))
CSV_COLUMNS = (
    "Student",
    "Number",
    "Type",
    "Instructor",
    "Next unit",
    "State",
    "Open",
    "What is open",
    "Last flown",
    "Notes",
)
GROUP_LABELS = {
    "decision": "waits for a decision",
    "before": "before first solo",
    "released": "released",
    "paper": "document",
}


@dataclass(frozen=True)
class BoardRow:
    """A student on the board. `unsigned`: how many lessons wait for a signature."""

    enrolment: Enrolment
    stored: StoredVerdict
    release: Release | None
    unsigned: int
    on: date

    @property
    def summary(self) -> dict[str, Any]:
        row: dict[str, Any] = self.stored.row
        return row

    @property
    def group(self) -> str:
        return student_group(
            released=self.release is not None,
            ready=self.summary["ready"],
            waits_for_paper=self.summary["waits_for_paper"],
        )

    @cached_property
    def last_flown(self) -> date | None:
        return date.fromisoformat(self.summary["last_flown"]) if self.summary["last_flown"] else None

    @property
    def last_flown_words(self) -> str:
        return last_flown_words(self.last_flown, self.on)

    @property
    def has_long_gap(self) -> bool:
        # From the stored row: it is the limit of the standard that the verdict was derived by.
        limit = timedelta(days=self.summary["long_gap_days"])
        return self.last_flown is not None and self.on - self.last_flown > limit

    @cached_property
    def papers(self) -> list[Expiry]:
        """Return what runs out within the longest span of the reminders, the release included."""
        # The row stores last days and no counts of days, which would be wrong on the next day.
        papers = [(paper["what"], date.fromisoformat(paper["until"])) for paper in self.summary["papers"]]
        return expiries_of_student(self.enrolment.student, papers, self.release, self.on)

    @cached_property
    def notes(self) -> list[str]:
        sentences = [f"{part.capitalize()} slipped back" for part in self.summary["slips"]]
        if self.summary["stuck"]:
            sentences.append("no progress in three lessons")
        sentences += [paper.words for paper in self.papers]
        if self.unsigned:
            sentences.append(f"{self.unsigned} lesson{'s' if self.unsigned > 1 else ''} not signed")
        return sentences

    @property
    def fragment(self) -> CachedFragment:
        """Return the part of the page for grading/_board_row.html."""
        # Keyed by everything the row shows and not by the stamp of the verdict: a release, a name or another day
        # changes a row whose verdict stays as it is.
        content = self.content
        return CachedFragment(("board row", content), lambda: {"content": content})

    @property
    def content(self) -> "BoardRowContent":
        shown, given = self.summary, self.release
        return BoardRowContent(
            group=self.group,
            uid=self.enrolment.uid,
            name=self.enrolment.student.name,
            reference=self.enrolment.student.reference,
            band=shown["band"],
            here=shown["here"],
            strip=shown["strip"],
            released=ReleaseExtent(given.valid_until, given.max_wind_kt, given.max_crosswind_kt, given.runways)
            if given
            else None,
            headline=shown["headline"],
            open=shown["open"],
            open_words=shown["open_words"],
            instructor=self.enrolment.instructor.name,
            last_flown=self.last_flown,
            last_flown_words=self.last_flown_words,
            has_long_gap=self.has_long_gap,
            notes=tuple(self.notes),
        )

    def matches_filter(self, shown: str) -> bool:
        matches: dict[str, bool] = {
            "close": self.summary["close"],
            "stuck": self.summary["stuck"],
            "slipped": bool(self.summary["slips"]),
            "papers": bool(self.papers),
            "unsigned": self.unsigned > 0,
        }
        return matches.get(shown, True)


class ReleaseExtent(NamedTuple):
    """The limits of the release in force."""

    day: date
    wind_kt: int
    crosswind_kt: int
    runways: str


# This tuple is the key of the cached row: what a row shows and this lacks would be shown stale.
class BoardRowContent(NamedTuple):
    """Everything that the row of a student shows: the template is given this and nothing else.

    band, strip: as stored (grading/reading/verdict_cache.py).
    """

    group: str
    uid: UUID
    name: str
    reference: str
    band: list[dict[str, Any]]
    here: str
    strip: dict[str, Any] | None
    released: ReleaseExtent | None
    headline: str
    open: int
    open_words: str
    instructor: str
    last_flown: date | None
    last_flown_words: str
    has_long_gap: bool
    notes: tuple[str, ...]


def filter_and_sort(rows: Sequence[BoardRow], shown: str = "", sort: str = "name") -> list[BoardRow]:
    """Return the rows that match a filter, in the order requested; `rows` come by name."""
    # Sorting is stable, so equal students stay in the order of names.
    matching = [row for row in rows if row.matches_filter(shown)]
    if sort == "open":
        return sorted(matching, key=lambda row: int(row.summary["open"]))
    if sort == "flown":
        return sorted(matching, key=lambda row: row.last_flown or date.min, reverse=True)
    return matching


def render_csv(rows: Iterable[BoardRow]) -> str:
    """Return the table as CSV, one line a student."""
    # Through csv_text: typed text that begins with “=” would run as a formula in the reader's spreadsheet.
    lines = [csv_text.format_line(CSV_COLUMNS)]
    for row in rows:
        cells = (
            row.enrolment.student.name,
            row.enrolment.student.reference,
            row.enrolment.aircraft_type.name,
            row.enrolment.instructor.name,
            row.summary["here"],
            GROUP_LABELS[row.group],
            str(row.summary["open"]),
            row.summary["open_words"],
            row.last_flown.isoformat() if row.last_flown else "",
            "; ".join(row.notes),
        )
        lines.append(csv_text.format_line(cells))
    return "".join(lines)
