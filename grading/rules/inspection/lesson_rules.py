"""Find what one lesson lacks or contradicts in itself. Generators of findings over plain facts."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from grading.rules.inspection.facts import InspectedLesson, InspectedRecord
from grading.rules.inspection.finding import (
    BLOCK_TIME_TOLERANCE_MINUTES,
    CorrectionPage,
    Corrector,
    Finding,
    Weight,
)
from grading.rules.readiness.dates import long_date


def lesson_findings(record: InspectedRecord, at: datetime) -> Iterator[Finding]:
    """Yield every finding about single lessons; what a draft contains is not judged before it is signed."""
    for lesson in record.lessons:
        yield from signature_findings(record, lesson, at)
        if lesson.signed_at is None:
            continue
        yield from content_findings(lesson)
        yield from number_findings(lesson)
        yield from enrolment_findings(record, lesson)


def lesson_finding(kind: str, weight: Weight, lesson: InspectedLesson, sentence: str) -> Finding:
    """Return a finding that the instructor of the lesson corrects on its page."""
    return Finding(
        kind,
        weight,
        f"Lesson {lesson.number}: {sentence}",
        lesson.on,
        Corrector.INSTRUCTOR,
        lesson.enrolment,
        CorrectionPage.LESSON,
        lesson.uid,
        lesson.instructor,
        lesson.instructor_name,
    )


def signature_findings(record: InspectedRecord, lesson: InspectedLesson, at: datetime) -> Iterator[Finding]:
    """Yield what was not signed in time by the instructor, or not answered in time by the student."""
    time_to_sign = timedelta(hours=record.policy.hours_to_sign)
    if lesson.signed_at is None:
        if lesson.version > 1:
            # From its own beginning, because the lesson that it corrects may be months old.
            if at - lesson.begun_at > time_to_sign:
                begun = f"its correction was begun {describe_duration(at - lesson.begun_at)} ago and never signed."
                yield lesson_finding("correction_open", Weight.ODD, lesson, begun)
        elif at - lesson.end > time_to_sign:
            yield lesson_finding(
                "unsigned", Weight.MISSING, lesson, f"not signed, {describe_duration(at - lesson.end)} after it ended."
            )
        return
    # A correction is late by its nature: only the first version is measured from the end of the lesson.
    if lesson.version == 1 and lesson.signed_at - lesson.end > time_to_sign:
        late = f"signed {describe_duration(lesson.signed_at - lesson.end)} after it ended."
        yield lesson_finding("signed_late", Weight.NOTE, lesson, late)
    time_to_acknowledge = timedelta(days=record.policy.days_to_acknowledge)
    if lesson.answer is None and at - lesson.signed_at > time_to_acknowledge:
        waits = f"not signed by the student, {describe_duration(at - lesson.signed_at)} after the instructor."
        yield Finding(
            "student_waits",
            Weight.ODD,
            f"Lesson {lesson.number}: {waits}",
            lesson.on,
            Corrector.STUDENT,
            lesson.enrolment,
            CorrectionPage.LESSON,
            lesson.uid,
            record.student,
            record.student_name,
        )
    if lesson.answer == "refused":
        refused = "the student refused to sign it, and no correction answers the remark."
        yield lesson_finding("refused", Weight.ODD, lesson, refused)


def content_findings(lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield the missing entries that 14 CFR 61.51(b) and (h) ask for, and those by which the school counts."""
    if not lesson.flown:
        if not lesson.ground:
            yield lesson_finding("no_ground_time", Weight.MISSING, lesson, "no time of ground instruction is recorded.")
        return
    if not lesson.flight:
        yield lesson_finding("no_hours", Weight.MISSING, lesson, "no hours are recorded.")
    if lesson.aircraft is None:
        yield lesson_finding("no_aircraft", Weight.MISSING, lesson, "no aircraft is recorded.")
    if lesson.runway is None:
        yield lesson_finding(
            "no_place", Weight.MISSING, lesson, "no runway is recorded, so nobody can say where it was flown."
        )
    if lesson.off_blocks is None or lesson.on_blocks is None:
        lacks = " and ".join(
            name for name, moment in (("off", lesson.off_blocks), ("on", lesson.on_blocks)) if moment is None
        )
        yield lesson_finding("no_block_times", Weight.ODD, lesson, f"{lacks} blocks not recorded.")
    if lesson.circuits and not lesson.takeoffs:
        yield lesson_finding(
            "no_counts", Weight.ODD, lesson, f"{plural(lesson.circuits, 'circuit')} recorded, and no takeoff."
        )
    # A circuit that ended with a go-around has no landing, so only those that ended with one are compared.
    elif lesson.landed and not lesson.landings:
        yield lesson_finding(
            "no_counts",
            Weight.ODD,
            lesson,
            f"{plural(lesson.landed, 'circuit')} ended with a landing, and none is counted.",
        )


def number_findings(lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield the numbers that contradict each other."""
    if lesson.off_blocks and lesson.on_blocks:
        block = round((lesson.on_blocks - lesson.off_blocks) / timedelta(minutes=1))
        if lesson.flight and abs(block - lesson.flight) > BLOCK_TIME_TOLERANCE_MINUTES:
            differ = f"{hours_and_minutes(lesson.flight)} flown, but {hours_and_minutes(block)} from off to on blocks."
            yield lesson_finding("times_differ", Weight.ODD, lesson, differ)
        # The lesson has the local day and block times are UTC: one day apart is no contradiction.
        if abs((lesson.off_blocks.date() - lesson.on).days) > 1:
            other = f"off blocks is on {long_date(lesson.off_blocks.date())}, the lesson on {long_date(lesson.on)}."
            yield lesson_finding("other_day", Weight.ODD, lesson, other)
    for name, minutes in (("night", lesson.night), ("by instruments", lesson.instrument)):
        if minutes > lesson.flight:
            above = f"{hours_and_minutes(minutes)} {name}, of {hours_and_minutes(lesson.flight)} flown."
            yield lesson_finding("parts_above_total", Weight.ODD, lesson, above)


def enrolment_findings(record: InspectedRecord, lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield a lesson outside the days of the enrolment, or in another type."""
    if lesson.on < record.enrolled_on:
        before = f"before the enrolment of {long_date(record.enrolled_on)}."
        yield lesson_finding("outside_enrolment", Weight.ODD, lesson, before)
    if record.ended_on and lesson.on > record.ended_on:
        after = f"after the training ended on {long_date(record.ended_on)}."
        yield lesson_finding("outside_enrolment", Weight.ODD, lesson, after)
    if lesson.aircraft_type is not None and lesson.aircraft_type != record.aircraft_type:
        other = f"flown in {lesson.registration}, and the enrolment is for the {record.type_name}."
        yield lesson_finding("other_type", Weight.NOTE, lesson, other)


def plural(count: int, word: str) -> str:
    """Return the count with its noun, with an s unless it is one."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def hours_and_minutes(minutes: int) -> str:
    """Return minutes as hours and minutes: 95 gives "1:35 h"."""
    return f"{minutes // 60}:{minutes % 60:02d} h"


def describe_duration(length: timedelta) -> str:
    """Return "30 hours" or "3 days": whole ones, in days from two on."""
    days = length // timedelta(days=1)
    return plural(days, "day") if days >= 2 else plural(length // timedelta(hours=1), "hour")


def describe_days(days: list[date]) -> str:
    """Return the first of some days and how many follow: "on 3 June 2026 and 2 later days"."""
    later = len(days) - 1
    return f"on {long_date(min(days))}" + (f" and {plural(later, 'later day')}" if later else "")
