"""Find what an inspector would miss in the records, by pure rules over plain facts. No Django, no clock, no query.

The bridge from the database is grading/reading/inspection_facts.py.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime

from grading.rules.inspection.course_rules import course_findings
from grading.rules.inspection.facts import InspectedCertificate, InspectedLesson, InspectedRecord
from grading.rules.inspection.finding import FINDING_KINDS, CorrectionPage, Corrector, Finding, Weight, describe_kinds
from grading.rules.inspection.lesson_rules import lesson_findings
from grading.rules.inspection.overlaps import instructor_hours_finding, overlap_findings
from grading.rules.inspection.solo_rules import certificate_findings, solo_findings
from grading.rules.readiness.standard import RequirementSpec

__all__ = [
    "FINDING_KINDS",
    "CorrectionPage",
    "Corrector",
    "Finding",
    "InspectedCertificate",
    "InspectedLesson",
    "InspectedRecord",
    "Weight",
    "describe_kinds",
    "inspect_records",
    "instructor_hours_finding",
]


def inspect_records(
    records: Sequence[InspectedRecord],
    neighbours: Sequence[InspectedLesson],
    specs: Sequence[RequirementSpec],
    held: Mapping[int, Sequence[InspectedCertificate]],
    names: Mapping[int, str],
    at: datetime,
    today: date,
    rule_set: str = "us",
) -> list[Finding]:
    """Return every finding of these records, the latest day first.

    neighbours: lessons of others on the same days, which may overlap with these; specs: the requirements of the
    standard in force; held: certificates by the key of the instructor; names: students by their key;
    today: the day of `at` at the school; rule_set: whose paragraphs are asked for.
    """
    findings: list[Finding] = []
    for record in records:
        findings += lesson_findings(record, at)
        findings += course_findings(record, today)
        findings += solo_findings(record, specs, today, rule_set)
        findings += certificate_findings(record, held)
    lessons = [lesson for record in records for lesson in record.lessons]
    findings += overlap_findings([*lessons, *neighbours], {record.enrolment for record in records}, names)
    # The sorting is stable, so that findings of one day stay in the order in which the rules are listed.
    return sorted(findings, key=lambda finding: finding.on, reverse=True)
