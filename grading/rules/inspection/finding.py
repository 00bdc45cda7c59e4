"""Define a finding: what is missing from a record, or odd in it, in one sentence. Pure."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from datetime import date
from enum import StrEnum
from uuid import UUID

from grading.rules.readiness.standard import Policy


class Weight(StrEnum):
    """Weigh a finding. MISSING: an inspector would find the record incomplete. ODD: look at it. NOTE: to know."""

    MISSING = "missing"
    ODD = "odd"
    NOTE = "note"


class Corrector(StrEnum):
    """Name who can correct it. The instructor and the student are persons; the others are offices."""

    INSTRUCTOR = "instructor"
    STUDENT = "student"
    CHIEF = "chief instructor"
    ADMIN = "administrator"


class CorrectionPage(StrEnum):
    """Name the page on which it is corrected or seen: a lesson, a discarded one, papers, the student before solo."""

    LESSON = "lesson"
    DISCARDED = "discarded"
    RECORD = "record"
    READINESS = "readiness"


@dataclass(frozen=True, slots=True)
class Finding:
    """Say in one sentence what is wrong, since when, and who corrects it where.

    enrolment: None where it concerns an instructor and no student. mends: the key of the person whose name is `by`.
    facts: the sentence without what grows with every day that passes; empty where nothing in it does.
    """

    kind: str
    weight: Weight
    sentence: str
    on: date
    corrector: Corrector
    enrolment: int | None
    place: CorrectionPage
    uid: UUID | None = None
    mends: int | None = None
    by: str = ""
    facts: str = ""

    @property
    def fingerprint(self) -> str:
        """Return the same text for as long as the facts are the same: another fact makes another finding."""
        whose = f"enrolment {self.enrolment}" if self.enrolment else f"person {self.mends}"
        told = (self.kind, self.weight, whose, str(self.uid), self.on.isoformat(), self.facts or self.sentence)
        return hashlib.sha256(json.dumps(told, ensure_ascii=False).encode()).hexdigest()

    @property
    def can_be_settled(self) -> bool:
        """Return whether it can be marked as done: not while a student may fly on what is missing."""
        return self.kind not in NEVER_SETTLED


@dataclass(frozen=True, slots=True)
class FindingKind:
    """Describe one thing that is checked: its name in lists, what is checked, on whose authority."""

    title: str
    checked: str
    source: str

    def source_under(self, rule_set: str) -> str:
        """Return on whose authority it is checked: paragraphs of 14 CFR are those of its own rule set alone."""
        return self.source if rule_set == "us" or "CFR" not in self.source else OWN_RECORD_KEEPING


COMMON_PRACTICE = "common practice"
OWN_RECORD_KEEPING = "the school's own record keeping"
# Kinds that only the law of one rule set asks for.
US_ONLY = ("over_eight_hours",)
# The release is in force: it is withdrawn, or endorsed, and not explained.
NEVER_SETTLED = ("release_endorsement",)
# Arithmetic and no policy: hours are written in tenths, so dual and solo are each up to three minutes off.
BLOCK_TIME_TOLERANCE_MINUTES = 6
# Law and no policy: 14 CFR 61.87(n) and (p)(4). So are the 8 hours of lessons/rules/instructor_limits.py.
ENDORSEMENT_DAYS = 90

# A text in `checked` names a limit of the policy in braces: describe_kinds() puts the number of the standard there.
FINDING_KINDS = {
    "unsigned": FindingKind(
        "Lesson not signed", "each lesson signed within {hours_to_sign} hours of its end", "14 CFR 61.51(h)(2)"
    ),
    "signed_late": FindingKind(
        "Lesson signed late", "no lesson signed more than {hours_to_sign} hours after its end", COMMON_PRACTICE
    ),
    "student_waits": FindingKind(
        "Student’s signature waits",
        "each lesson answered by the student within {days_to_acknowledge} days",
        COMMON_PRACTICE,
    ),
    "discarded": FindingKind(
        "Lesson discarded",
        "no lesson discarded in which something had been entered; what was entered stays with the reason",
        OWN_RECORD_KEEPING,
    ),
    "refused": FindingKind("Refusal unanswered", "each refusal by a student answered by a correction", COMMON_PRACTICE),
    "correction_open": FindingKind(
        "Correction not signed",
        "each correction signed within {hours_to_sign} hours of its beginning",
        COMMON_PRACTICE,
    ),
    "no_hours": FindingKind("Hours missing", "each flight with its hours", "14 CFR 61.51(b)(1)(ii)"),
    "no_aircraft": FindingKind("Aircraft missing", "each flight with its aircraft", "14 CFR 61.51(b)(1)(iv)"),
    "no_place": FindingKind(
        "Place missing", "each flight with its runway and so its aerodrome", "14 CFR 61.51(b)(1)(iii)"
    ),
    "no_ground_time": FindingKind("Ground time missing", "each ground lesson with its length", "14 CFR 61.51(h)(2)(i)"),
    "no_block_times": FindingKind(
        "Block times missing",
        "each flight with off and on blocks, without which no 24 hours can be counted",
        COMMON_PRACTICE,
    ),
    "no_counts": FindingKind(
        "Takeoffs or landings missing", "each flight of circuits with takeoffs and landings", COMMON_PRACTICE
    ),
    "times_differ": FindingKind(
        "Hours and block times differ",
        f"hours within {BLOCK_TIME_TOLERANCE_MINUTES} minutes of the block times",
        COMMON_PRACTICE,
    ),
    "parts_above_total": FindingKind(
        "Part above the total", "night and instrument time no longer than the flight", "14 CFR 61.51(b)(3)"
    ),
    "other_day": FindingKind("Block times of another day", "block times on the day of the lesson", COMMON_PRACTICE),
    "other_type": FindingKind("Another type", "each flight in the type of the enrolment", COMMON_PRACTICE),
    "overlap": FindingKind(
        "Lessons overlap", "no two flights at once of one student, one instructor or one aircraft", COMMON_PRACTICE
    ),
    "outside_enrolment": FindingKind(
        "Outside the enrolment", "each lesson between enrolment and its end", "14 CFR 141.101(a)(1), (3)"
    ),
    "over_eight_hours": FindingKind(
        "More than 8 hours in 24", "at most 8 hours of flight training by one instructor in 24", "14 CFR 61.195(a)"
    ),
    "long_gap": FindingKind(
        "Long gap", "no more than {max_days_between_lessons} days between two lessons", COMMON_PRACTICE
    ),
    "long_without": FindingKind(
        "Long without a lesson", "a lesson in the last {max_days_between_lessons} days while enrolled", COMMON_PRACTICE
    ),
    "solo_after_withdrawal": FindingKind(
        "Solo after a withdrawal",
        "no solo after the release was withdrawn, the lessons that are still being written included",
        "14 CFR 61.87(n)",
    ),
    "solo_without_reason": FindingKind(
        "Solo outside a release", "each solo flight within a release, or with the reason written", "14 CFR 61.87(n)"
    ),
    "solo_with_reason": FindingKind(
        "Solo outside, with reason", "solo outside a release for a written reason", COMMON_PRACTICE
    ),
    "solo_endorsement": FindingKind(
        "Endorsement at solo",
        f"each solo flight within {ENDORSEMENT_DAYS} days of an endorsement in force for the type",
        "14 CFR 61.87(n), (p)(4)",
    ),
    "release_endorsement": FindingKind(
        "Endorsement under a release",
        f"each release in force rests on an endorsement that is in force and at most {ENDORSEMENT_DAYS} days old",
        "14 CFR 61.87(n), (p)(4)",
    ),
    "solo_paper": FindingKind(
        "Document at solo", "each document required by law in force at each solo flight", "the standard in force"
    ),
    "solo_test": FindingKind(
        "Knowledge test before solo", "the pre-solo knowledge test taken before the first solo", "14 CFR 61.87(b)"
    ),
    "certificate": FindingKind(
        "Instructor’s certificate",
        "the instructor’s certificate on record and in force at each lesson",
        "14 CFR 61.51(h)(2)(ii)",
    ),
    "test_not_reviewed": FindingKind(
        "Wrong answers not reviewed",
        "wrong answers reviewed before solo, and those of other tests within {days_to_review} days",
        "14 CFR 61.87(b)(2)(ii)",
    ),
    "test_unnamed": FindingKind(
        "Test without a name", "each written test with its name and grade", "14 CFR 141.101(a)(2)"
    ),
    "end_not_certified": FindingKind(
        "End not certified", "each end of training certified by the chief instructor", "14 CFR 141.101(c)"
    ),
    "no_birth": FindingKind("Date of birth missing", "the date of birth of each student", "14 CFR 61.83(a), 61.23(d)"),
    "no_papers": FindingKind(
        "No documents", "at least one document on record for each student in training", COMMON_PRACTICE
    ),
}


def describe_kinds(policy: Policy, rule_set: str) -> Iterable[FindingKind]:
    """Return every kind of a rule set in the order in which they are checked, its text with the limits of a policy."""
    limits = asdict(policy)
    return [
        replace(kind, checked=kind.checked.format(**limits), source=kind.source_under(rule_set))
        for key, kind in FINDING_KINDS.items()
        if rule_set == "us" or key not in US_ONLY
    ]
