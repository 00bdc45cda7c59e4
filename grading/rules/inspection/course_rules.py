"""Find what the course of one enrolment lacks: gaps, written tests, papers, its end. Generators over plain facts."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from grading.rules.inspection.facts import InspectedRecord, WrittenTest
from grading.rules.inspection.finding import (
    CorrectionPage,
    Corrector,
    Finding,
    Weight,
)
from grading.rules.inspection.sentences import plural, say


def course_findings(record: InspectedRecord, on: date) -> Iterator[Finding]:
    """Yield every finding about the course of one enrolment as of a day."""
    yield from discarded_lesson_findings(record)
    yield from gap_findings(record)
    yield from long_without_findings(record, on)
    yield from written_test_findings(record, on)
    yield from student_data_findings(record)
    yield from end_of_training_findings(record)


def discarded_lesson_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield the lessons that were discarded before they were signed; one in which nothing was entered is a note."""
    for lesson in record.discarded:
        entries = "1 entry" if lesson.entries == 1 else f"{lesson.entries} entries"
        number = f"{lesson.number}, version {lesson.version}" if lesson.version > 1 else lesson.number
        key = "discarded" if lesson.entries else "discarded_empty"
        sentence = say(key, lesson=number, by=lesson.by_name, entries=entries, reason=lesson.reason)
        weight = Weight.ODD if lesson.entries else Weight.NOTE
        yield Finding(
            "discarded",
            weight,
            sentence,
            lesson.on,
            Corrector.CHIEF,
            record.enrolment,
            CorrectionPage.DISCARDED,
            lesson.uid,
        )


def gap_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield the gaps without an entry between two lessons, while enrolled."""
    for lesson in record.lessons:
        # `before` comes from the database: the lesson before this one may be left out of the record.
        if lesson.before is not None and (lesson.on - lesson.before).days > record.policy.max_days_between_lessons:
            days = (lesson.on - lesson.before).days
            gap = say("long_gap", days=days, begin=lesson.before, end=lesson.on)
            yield _instructor_finding("long_gap", Weight.NOTE, record, gap, lesson.on)


def long_without_findings(record: InspectedRecord, on: date) -> Iterator[Finding]:
    """Yield a finding for a student still enrolled, with nothing since the last lesson or since the enrolment."""
    if record.ended_on and record.ended_on <= on:
        return
    # A lesson that is dated ahead is no lesson yet.
    days = [lesson.on for lesson in record.lessons if lesson.on <= on]
    last = max(days, default=record.enrolled_on)
    if (on - last).days > record.policy.max_days_between_lessons:
        sentence = say("long_without" if days else "never_begun", days=(on - last).days, last=last)
        found = _finding("long_without", Weight.ODD, record, sentence, last, Corrector.CHIEF, CorrectionPage.READINESS)
        yield replace(found, facts="no lesson since")


def written_test_findings(record: InspectedRecord, on: date) -> Iterator[Finding]:
    """Yield tests without a name, and wrong answers that nobody reviewed in time."""
    solo = [lesson.on for lesson in record.solo_flights]
    for test in record.tests:
        title = test.title.strip()
        named = "named_" if title else ""
        if not title:
            unnamed = say("test_unnamed", day=test.on)
            yield _instructor_finding("test_unnamed", Weight.MISSING, record, unnamed, test.on)
        # A solo flown before the review weighs more than a late review, so it is looked for first.
        if test.wrong and (alone := _solo_before_review(test, solo)) is not None:
            wrong = plural(test.wrong, "wrong answer")
            sentence = say(f"{named}test_not_reviewed_at_solo", test=title, wrong=wrong, day=alone)
            yield _instructor_finding("test_not_reviewed", Weight.MISSING, record, sentence, test.on)
        elif test.wrong and test.reviewed is None and on - test.on > timedelta(days=record.policy.days_to_review):
            wrong = plural(test.wrong, "wrong answer")
            sentence = say(f"{named}test_not_reviewed", test=title, wrong=wrong, days=(on - test.on).days)
            found = _instructor_finding("test_not_reviewed", Weight.ODD, record, sentence, test.on)
            yield replace(found, facts=f"{title}: {wrong}")


def _solo_before_review(test: WrittenTest, solo: list[date]) -> date | None:
    """Return the first solo after a pre-solo test whose wrong answers were not reviewed by then."""
    if not test.topics:  # a test of the course, and not the one that 14 CFR 61.87(b) asks for before solo
        return None
    return min((day for day in solo if day >= test.on and (test.reviewed is None or test.reviewed > day)), default=None)


def student_data_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield what is missing about the person: the date of birth, every paper."""
    if record.born is None:
        none = say("no_birth")
        yield _finding(
            "no_birth", Weight.MISSING, record, none, record.enrolled_on, Corrector.ADMIN, CorrectionPage.RECORD
        )
    # Only while training lasts: afterwards no solo flight is left that would need a document.
    if not record.papers and record.ended_on is None:
        none = say("no_papers")
        yield _finding(
            "no_papers", Weight.ODD, record, none, record.enrolled_on, Corrector.ADMIN, CorrectionPage.RECORD
        )


def end_of_training_findings(record: InspectedRecord) -> Iterator[Finding]:
    """Yield an end of training that the chief instructor has not certified (14 CFR 141.101(c))."""
    if record.ended_on and not record.certified:
        sentence = say("end_not_certified", end=record.end, day=record.ended_on)
        yield _finding(
            "end_not_certified",
            Weight.MISSING,
            record,
            sentence,
            record.ended_on,
            Corrector.CHIEF,
            CorrectionPage.READINESS,
        )


def _finding(
    kind: str,
    weight: Weight,
    record: InspectedRecord,
    sentence: str,
    on: date,
    corrector: Corrector,
    place: CorrectionPage,
) -> Finding:
    return Finding(kind, weight, sentence, on, corrector, record.enrolment, place, record.uid)


def _instructor_finding(kind: str, weight: Weight, record: InspectedRecord, sentence: str, on: date) -> Finding:
    """Return a finding that the student's own instructor corrects, on the page of the student before solo."""
    return Finding(
        kind,
        weight,
        sentence,
        on,
        Corrector.INSTRUCTOR,
        record.enrolment,
        CorrectionPage.READINESS,
        record.uid,
        record.instructor,
        record.instructor_name,
    )
