"""This module filters findings by student, kind, weight and instructor, and groups them by kind or by student."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from django.urls import reverse

from grading.models import SettledFinding
from grading.rules.inspection import FINDING_KINDS, CorrectionPage, Finding, Weight
from grading.rules.inspection.finding import FindingKind
from lessons.models import Enrolment
from school import csv_text
from school.current import get_school, school_day, school_read_once
from school.models import Person
from school.permissions import can_see_records

CSV_COLUMNS = (
    "Student",
    "Number",
    "Enrolled",
    "Day",
    "Weight",
    "Kind",
    "Finding",
    "To be corrected by",
    "Source",
    "Done",
    "Done by",
    "Reason",
)
WEIGHT_WORDS = {
    Weight.MISSING: "missing",
    Weight.ODD: "to check",
    Weight.NOTE: "for information",
}
STUDENTS_PER_PAGE = 40
FINDINGS_PER_PAGE = 100


class FindingsFilter(NamedTuple):
    """Which findings the reader wants; an empty field means all."""

    q: str = ""
    kind: str = ""
    weight: str = ""
    instructor: str = ""
    done: str = ""
    by: str = ""


@dataclass(frozen=True)
class FindingRow:
    """A finding as a row. `address`: the page where it is corrected, empty where the reader may not open it.

    enrolment: of its student, None where it concerns an instructor. settled: who marked it as done and why, None for
    one that is open.
    """

    finding: Finding
    address: str
    rule_set: str
    enrolment: Enrolment | None
    settled: SettledFinding | None

    @property
    def kind(self) -> FindingKind:
        return FINDING_KINDS[self.finding.kind]

    @property
    def source(self) -> str:
        return self.kind.source_under(self.rule_set)

    @property
    def weight_words(self) -> str:
        return WEIGHT_WORDS[self.finding.weight]

    @property
    def mender_words(self) -> str:
        if self.finding.weight is Weight.NOTE:
            return "nobody: it stays as it is"
        return f"{self.finding.corrector}, {self.finding.by}" if self.finding.by else str(self.finding.corrector)


@dataclass(frozen=True)
class StudentFindings:
    """A student's findings. `enrolment` None: those of instructors."""

    enrolment: Enrolment | None
    lines: Sequence[FindingRow]


@dataclass(frozen=True)
class KindFindings:
    """The findings of one kind, person after person. `count`: of all pages."""

    kind: FindingKind
    source: str
    count: int
    lines: Sequence[FindingRow]


def filter_findings(
    findings: Iterable[Finding], asked: FindingsFilter, enrolments: Mapping[int, Enrolment]
) -> list[Finding]:
    """Return the findings that match. An instructor matches who gave the lesson or teaches the student."""
    # Filtered here and not in SQL: findings are derived for each request and are in no table.
    words = asked.q.casefold().split()
    return [
        finding
        for finding in findings
        if (not asked.kind or finding.kind == asked.kind)
        and (not asked.weight or finding.weight == asked.weight)
        and (not asked.instructor or str(finding.mends) == asked.instructor)
        and (not words or _matches_student(finding, words, enrolments))
    ]


def _matches_student(finding: Finding, words: Sequence[str], enrolments: Mapping[int, Enrolment]) -> bool:
    # A finding about an instructor has no student whose name could match.
    if finding.enrolment is None:
        return False
    student = enrolments[finding.enrolment].student
    text = f"{student.name} {student.reference}".casefold()
    return all(word in text for word in words)


def split_settled(
    findings: Iterable[Finding], settled: Mapping[str, SettledFinding]
) -> tuple[list[Finding], list[Finding]]:
    """Return the findings that are open and those that somebody marked as done."""
    rows = [(finding, finding.fingerprint in settled) for finding in findings]
    return [finding for finding, done in rows if not done], [finding for finding, done in rows if done]


def sort_by_kind(findings: Iterable[Finding], enrolments: Mapping[int, Enrolment]) -> list[Finding]:
    """Return them kind after kind in the order in which they are checked, in a kind by the student's name."""
    kinds = {key: place for place, key in enumerate(FINDING_KINDS)}
    names = {key: place for place, key in enumerate(enrolments, start=1)}
    # Stable: the latest first of one student.
    return sorted(findings, key=lambda row: (kinds[row.kind], names[row.enrolment] if row.enrolment else 0))


def group_by_kind(
    findings: Iterable[Finding],
    counts: Mapping[str, int],
    enrolments: Mapping[int, Enrolment],
    reader: Person,
    settled: Mapping[str, SettledFinding],
) -> list[KindFindings]:
    """Group sorted findings by their kind; counts: how many there are of each on all pages."""
    groups = []
    for key, rows in groupby(findings, key=lambda finding: finding.kind):
        lines = [finding_row(row, reader, enrolments.get(row.enrolment or 0), settled) for row in rows]
        groups.append(KindFindings(FINDING_KINDS[key], lines[0].source, counts[key], lines))
    return groups


def group_by_student(
    findings: Iterable[Finding],
    enrolments: Mapping[int, Enrolment],
    reader: Person,
    settled: Mapping[str, SettledFinding],
) -> list[StudentFindings]:
    """Group by student in the order of names, instructors first; in a group the missing come first, then the latest."""
    order = {key: place for place, key in enumerate(enrolments, start=1)}
    weights = list(Weight)

    def place(finding: Finding) -> tuple[int, int]:
        return order[finding.enrolment] if finding.enrolment else 0, weights.index(finding.weight)

    found = sorted(findings, key=place)  # stable: the latest first within a weight
    groups = groupby(found, key=lambda finding: finding.enrolment)
    return [
        StudentFindings(
            enrolments[key] if key else None,
            [finding_row(row, reader, enrolments.get(key or 0), settled) for row in rows],
        )
        for key, rows in groups
    ]


def finding_row(
    finding: Finding, reader: Person, enrolment: Enrolment | None, settled: Mapping[str, SettledFinding]
) -> FindingRow:
    done = settled.get(finding.fingerprint)
    return FindingRow(finding, _address(finding, reader), get_school().rule_set, enrolment, done)


def _address(finding: Finding, reader: Person) -> str:
    if finding.uid is None:
        return ""
    if finding.place is CorrectionPage.LESSON:
        return reverse("grading:lesson", args=[finding.uid])
    if finding.place is CorrectionPage.DISCARDED:
        return reverse("grading:discarded_lesson", args=[finding.uid])
    # Other staff are refused there: they see the finding without a link.
    if finding.place is CorrectionPage.RECORD:
        return reverse("grading:student_record", args=[finding.uid]) if can_see_records(reader) else ""
    return reverse("grading:readiness", args=[finding.uid])


def count_by_weight(findings: Sequence[Finding]) -> list[tuple[str, int]]:
    """Return each weight with its number of findings, such as ("missing", 3), those with none included."""
    count = Counter(finding.weight for finding in findings)
    # Also a weight without findings: “0 missing” is what a reader looks for.
    return [(WEIGHT_WORDS[weight], count[weight]) for weight in Weight]


def count_by_kind(findings: Iterable[Finding]) -> list[tuple[str, str, int]]:
    """Return each kind that occurs, with its title and number, in the order in which they are checked."""
    count = Counter(finding.kind for finding in findings)
    return [(key, kind.title, count[key]) for key, kind in FINDING_KINDS.items() if count[key]]


def responsible_instructors(findings: Iterable[Finding]) -> list[tuple[int, str]]:
    """Return the instructors who have something to correct, by name."""
    # Students have findings to answer as well; this filter lists instructors only.
    named = {f.mends: f.by for f in findings if f.mends is not None and f.corrector.value == "instructor"}
    return sorted(named.items(), key=lambda pair: pair[1])


@school_read_once
def stream_csv(
    findings: Iterable[Finding],
    enrolments: Mapping[int, Enrolment],
    reader: Person,
    settled: Mapping[str, SettledFinding],
) -> Iterator[str]:
    """Yield one line a finding, student after student; one that was marked as done with who did and why."""
    yield csv_text.format_line(CSV_COLUMNS)
    for group in group_by_student(findings, enrolments, reader, settled):
        row = group.enrolment
        whose = (row.student.name, row.student.reference, row.enrolled_on.isoformat()) if row else ("", "", "")
        for found in group.lines:
            yield csv_text.format_line(
                (
                    *whose,
                    found.finding.on.isoformat(),
                    found.weight_words,
                    found.kind.title,
                    found.finding.sentence,
                    found.mender_words,
                    found.source,
                    *_done_cells(found.settled),
                )
            )


def _done_cells(settled: SettledFinding | None) -> tuple[str, str, str]:
    if settled is None:
        return "", "", ""
    return school_day(settled.settled_at).isoformat(), settled.settled_by.name, settled.reason
