"""What the course of one enrolment lacks: gaps, written tests, papers, its end. Generators over plain facts."""

from collections.abc import Iterator
from datetime import date, timedelta

from grading.rules.inspection.facts import Record, WrittenTest
from grading.rules.inspection.finding import DAYS_BETWEEN_LESSONS, DAYS_TO_REVIEW, Finding, Mender, Place, Weight
from grading.rules.inspection.lesson_rules import plural
from grading.rules.readiness.dates import long_date


def course_findings(record: Record, on: date) -> Iterator[Finding]:
    yield from gaps(record)
    yield from long_without(record, on)
    yield from written_tests(record, on)
    yield from the_student(record)
    yield from the_end(record)


def gaps(record: Record) -> Iterator[Finding]:
    """Days without an entry between two lessons, while enrolled."""
    for lesson in record.lessons:
        if lesson.before is not None and (lesson.on - lesson.before).days > DAYS_BETWEEN_LESSONS:
            days = (lesson.on - lesson.before).days
            gap = f"No entry for {days} days, from {long_date(lesson.before)} to {long_date(lesson.on)}."
            yield _by_instructor("long_gap", Weight.NOTE, record, gap, lesson.on)


def long_without(record: Record, on: date) -> Iterator[Finding]:
    """Still enrolled, and nothing since the last lesson or since the enrolment."""
    if record.ended_on and record.ended_on <= on:
        return
    days = [lesson.on for lesson in record.lessons if lesson.on <= on]
    last = max(days, default=record.enrolled_on)
    if (on - last).days > DAYS_BETWEEN_LESSONS:
        since = f"the last lesson on {long_date(last)}" if days else f"the enrolment on {long_date(last)}"
        sentence = f"No lesson for {(on - last).days} days, since {since}: go on, or end the enrolment."
        yield _found("long_without", Weight.ODD, record, sentence, last, Mender.CHIEF, Place.READINESS)


def written_tests(record: Record, on: date) -> Iterator[Finding]:
    solo = [lesson.on for lesson in record.solo_flights]
    for test in record.tests:
        name = f"“{test.title.strip()}”" if test.title.strip() else "A written test"
        if not test.title.strip():
            unnamed = f"The written test of {long_date(test.on)} has no name."
            yield _by_instructor("test_unnamed", Weight.MISSING, record, unnamed, test.on)
        if test.wrong and (alone := _alone_before_review(test, solo)) is not None:
            wrong = plural(test.wrong, "wrong answer")
            sentence = f"{name}: {wrong} not reviewed when solo was flown on {long_date(alone)}."
            yield _by_instructor("test_not_reviewed", Weight.MISSING, record, sentence, test.on)
        elif test.wrong and test.reviewed is None and on - test.on > timedelta(days=DAYS_TO_REVIEW):
            wrong = plural(test.wrong, "wrong answer")
            sentence = f"{name}: {wrong} not reviewed, {(on - test.on).days} days after the test."
            yield _by_instructor("test_not_reviewed", Weight.ODD, record, sentence, test.on)


def _alone_before_review(test: WrittenTest, solo: list[date]) -> date | None:
    """The first solo after a pre-solo test whose wrong answers were not reviewed by then."""
    if not test.topics:
        return None
    return min((day for day in solo if day >= test.on and (test.reviewed is None or test.reviewed > day)), default=None)


def the_student(record: Record) -> Iterator[Finding]:
    if record.born is None:
        none = "No date of birth: neither the age nor the end of a medical can be shown."
        yield _found("no_birth", Weight.MISSING, record, none, record.enrolled_on, Mender.ADMIN, Place.RECORD)
    if not record.papers and record.ended_on is None:
        none = "No paper is on record: student pilot certificate, medical, proof of identity."
        yield _found("no_papers", Weight.ODD, record, none, record.enrolled_on, Mender.ADMIN, Place.RECORD)


def the_end(record: Record) -> Iterator[Finding]:
    if record.ended_on and not record.certified:
        sentence = f"Training {record.end} on {long_date(record.ended_on)}, not certified by the chief instructor."
        yield _found(
            "end_not_certified", Weight.MISSING, record, sentence, record.ended_on, Mender.CHIEF, Place.READINESS
        )


def _found(kind: str, weight: Weight, record: Record, sentence: str, on: date, mender: Mender, place: Place) -> Finding:
    return Finding(kind, weight, sentence, on, mender, record.enrolment, place, record.uid)


def _by_instructor(kind: str, weight: Weight, record: Record, sentence: str, on: date) -> Finding:
    """One that the student's own instructor mends, on the page of the student before solo."""
    return Finding(
        kind, weight, sentence, on, Mender.INSTRUCTOR, record.enrolment, Place.READINESS, record.uid,
        record.instructor, record.instructor_name,
    )  # fmt: skip
