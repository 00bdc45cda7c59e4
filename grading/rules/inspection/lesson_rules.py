"""Find what one lesson lacks or contradicts in itself. Generators of findings over plain facts."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from grading.rules.inspection.facts import InspectedLesson, InspectedRecord
from grading.rules.inspection.finding import (
    BLOCK_TIME_TOLERANCE_MINUTES,
    CorrectionPage,
    Corrector,
    Finding,
    Weight,
)
from grading.rules.inspection.sentences import describe_duration, hours_and_minutes, plural, say


def lesson_findings(record: InspectedRecord, at: datetime) -> Iterator[Finding]:
    """Yield every finding about single lessons; what a draft contains is not judged before it is signed."""
    for lesson in record.lessons:
        yield from signature_findings(record, lesson, at)
        if lesson.signed_at is None:
            continue
        yield from content_findings(lesson)
        yield from number_findings(lesson)
        yield from enrolment_findings(record, lesson)


def lesson_finding(kind: str, weight: Weight, lesson: InspectedLesson, sentence: str, facts: str = "") -> Finding:
    """Return a finding that the instructor of the lesson corrects on its page."""
    return Finding(
        kind,
        weight,
        sentence,
        lesson.on,
        Corrector.INSTRUCTOR,
        lesson.enrolment,
        CorrectionPage.LESSON,
        lesson.uid,
        lesson.instructor,
        lesson.instructor_name,
        facts,
    )


def signature_findings(record: InspectedRecord, lesson: InspectedLesson, at: datetime) -> Iterator[Finding]:
    """Yield what was not signed in time by the instructor, or not answered in time by the student."""
    time_to_sign = timedelta(hours=record.policy.hours_to_sign)
    if lesson.signed_at is None:
        if lesson.version > 1:
            # From its own beginning, because the lesson that it corrects may be months old.
            if at - lesson.begun_at > time_to_sign:
                begun = say("correction_open", lesson=lesson.number, ago=describe_duration(at - lesson.begun_at))
                yield lesson_finding("correction_open", Weight.ODD, lesson, begun, "begun")
        elif at - lesson.end > time_to_sign:
            unsigned = say("unsigned", lesson=lesson.number, ago=describe_duration(at - lesson.end))
            yield lesson_finding("unsigned", Weight.MISSING, lesson, unsigned, "not signed")
        return
    # A correction is late by its nature: only the first version is measured from the end of the lesson.
    if lesson.version == 1 and lesson.signed_at - lesson.end > time_to_sign:
        late = say("signed_late", lesson=lesson.number, ago=describe_duration(lesson.signed_at - lesson.end))
        yield lesson_finding("signed_late", Weight.NOTE, lesson, late)
    time_to_acknowledge = timedelta(days=record.policy.days_to_acknowledge)
    if lesson.answer is None and at - lesson.signed_at > time_to_acknowledge:
        waits = say("student_waits", lesson=lesson.number, ago=describe_duration(at - lesson.signed_at))
        yield Finding(
            "student_waits",
            Weight.ODD,
            waits,
            lesson.on,
            Corrector.STUDENT,
            lesson.enrolment,
            CorrectionPage.LESSON,
            lesson.uid,
            record.student,
            record.student_name,
            "not answered",
        )
    if lesson.answer == "refused":
        yield lesson_finding("refused", Weight.ODD, lesson, say("refused", lesson=lesson.number))


def content_findings(lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield the missing entries that 14 CFR 61.51(b) and (h) ask for, and those by which the school counts."""
    if not lesson.flown:
        if not lesson.ground:
            yield lesson_finding("no_ground_time", Weight.MISSING, lesson, say("no_ground_time", lesson=lesson.number))
        return
    if not lesson.flight:
        yield lesson_finding("no_hours", Weight.MISSING, lesson, say("no_hours", lesson=lesson.number))
    if lesson.aircraft is None:
        yield lesson_finding("no_aircraft", Weight.MISSING, lesson, say("no_aircraft", lesson=lesson.number))
    if lesson.runway is None:
        yield lesson_finding("no_place", Weight.MISSING, lesson, say("no_place", lesson=lesson.number))
    if lesson.off_blocks is None or lesson.on_blocks is None:
        lacks = "no_on_blocks" if lesson.off_blocks else "no_off_blocks" if lesson.on_blocks else "no_block_times"
        yield lesson_finding("no_block_times", Weight.ODD, lesson, say(lacks, lesson=lesson.number))
    if lesson.circuits and not lesson.takeoffs:
        none = say("no_takeoffs", lesson=lesson.number, circuits=plural(lesson.circuits, "circuit"))
        yield lesson_finding("no_counts", Weight.ODD, lesson, none)
    # A circuit that ended with a go-around has no landing, so only those that ended with one are compared.
    elif lesson.landed and not lesson.landings:
        none = say("no_landings", lesson=lesson.number, circuits=plural(lesson.landed, "circuit"))
        yield lesson_finding("no_counts", Weight.ODD, lesson, none)


def number_findings(lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield the numbers that contradict each other."""
    if lesson.off_blocks and lesson.on_blocks:
        block = round((lesson.on_blocks - lesson.off_blocks) / timedelta(minutes=1))
        if lesson.flight and abs(block - lesson.flight) > BLOCK_TIME_TOLERANCE_MINUTES:
            flown, blocks = hours_and_minutes(lesson.flight), hours_and_minutes(block)
            differ = say("times_differ", lesson=lesson.number, flown=flown, block=blocks)
            yield lesson_finding("times_differ", Weight.ODD, lesson, differ)
        # The lesson has the local day and block times are UTC: one day apart is no contradiction.
        if abs((lesson.off_blocks.date() - lesson.on).days) > 1:
            other = say("other_day", lesson=lesson.number, blocks_on=lesson.off_blocks.date(), on=lesson.on)
            yield lesson_finding("other_day", Weight.ODD, lesson, other)
    for key, minutes in (("night_above_total", lesson.night), ("instruments_above_total", lesson.instrument)):
        if minutes > lesson.flight:
            part, flown = hours_and_minutes(minutes), hours_and_minutes(lesson.flight)
            above = say(key, lesson=lesson.number, part=part, flown=flown)
            yield lesson_finding("parts_above_total", Weight.ODD, lesson, above)


def enrolment_findings(record: InspectedRecord, lesson: InspectedLesson) -> Iterator[Finding]:
    """Yield a lesson outside the days of the enrolment, or in another type."""
    if lesson.on < record.enrolled_on:
        before = say("before_enrolment", lesson=lesson.number, day=record.enrolled_on)
        yield lesson_finding("outside_enrolment", Weight.ODD, lesson, before)
    if record.ended_on and lesson.on > record.ended_on:
        after = say("after_training", lesson=lesson.number, day=record.ended_on)
        yield lesson_finding("outside_enrolment", Weight.ODD, lesson, after)
    if lesson.aircraft_type is not None and lesson.aircraft_type != record.aircraft_type:
        other = say("other_type", lesson=lesson.number, aircraft=lesson.registration, type=record.type_name)
        yield lesson_finding("other_type", Weight.NOTE, lesson, other)
