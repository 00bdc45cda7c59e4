"""The board: every student in one row; who is close, stuck, slipped back, short of a paper or of a signature."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from io import StringIO

from grading.pages.students import StudentRow
from grading.reminders import RunsOut, of_students

SHOWN = (
    ("", "All"),
    ("close", "Close"),
    ("stuck", "Stuck"),
    ("slipped", "Slipped back"),
    ("papers", "Papers run out"),
    ("unsigned", "Unsigned"),
)
SORTED = (("name", "by name"), ("open", "by what is open"), ("flown", "by last flight"))
COLUMNS = (
    "Student", "Number", "Type", "Instructor", "Next unit", "State", "Open", "What is open", "Last flown", "Notes",
)  # fmt: skip
STATES = {
    "decision": "waits for a decision",
    "before": "before first solo",
    "released": "released",
    "paper": "document",
}


@dataclass(frozen=True)
class BoardRow:
    """A student with what the board says beside the verdict. `unsigned`: lessons waiting for a signature."""

    student: StudentRow
    papers: list[RunsOut]
    unsigned: int

    @property
    def notes(self) -> list[str]:
        said = [f"{part.capitalize()} slipped back" for part in self.student.slips]
        if self.student.stuck:
            said.append("no progress in three lessons")
        said += [paper.words for paper in self.papers]
        if self.unsigned:
            said.append(f"{self.unsigned} lesson{'s' if self.unsigned > 1 else ''} not signed")
        return said

    def belongs(self, shown: str) -> bool:
        return {
            "close": self.student.close,
            "stuck": self.student.stuck,
            "slipped": bool(self.student.slips),
            "papers": bool(self.papers),
            "unsigned": self.unsigned > 0,
        }.get(shown, True)


def board_rows(
    rows: Sequence[StudentRow], unsigned: dict[int, int], on: date, shown: str = "", sort: str = "name"
) -> list[BoardRow]:
    """The rows that belong, in the order asked for. No query."""
    papers: dict[int, list[RunsOut]] = {}
    for paper in of_students(rows, on):
        papers.setdefault(paper.person.pk, []).append(paper)
    made = [BoardRow(row, papers.get(row.enrolment.student_id, []), unsigned.get(row.enrolment.pk, 0)) for row in rows]
    kept = [row for row in made if row.belongs(shown)]
    if sort == "open":
        return sorted(kept, key=lambda row: len(row.student.verdict.unmet))
    if sort == "flown":
        return sorted(kept, key=lambda row: row.student.last_flown or date.min, reverse=True)
    return kept


def as_csv(rows: Iterable[BoardRow]) -> str:
    """One line a student; a leading sign that a spreadsheet would take for a formula is made harmless."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in rows:
        student = row.student
        cells = (
            student.enrolment.student.name,
            student.enrolment.student.reference,
            student.enrolment.aircraft_type.name,
            student.enrolment.instructor.name,
            str(student.course.here),
            STATES[student.group],
            str(len(student.verdict.unmet)),
            student.open_words,
            student.last_flown.isoformat() if student.last_flown else "",
            "; ".join(row.notes),
        )
        writer.writerow([f"'{cell}" if cell[:1] in "=+-@\t\r" else cell for cell in cells])
    return out.getvalue()
