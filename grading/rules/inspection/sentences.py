"""Say each finding as a whole sentence, from a key and values. Pure.

A sentence in another language is another table: nothing is joined elsewhere but lists, and plurals are right here.
"""

from datetime import date, timedelta

from grading.rules.readiness.dates import long_date

SENTENCES = {
    "correction_open": "Lesson {lesson}: its correction was begun {ago} ago and never signed.",
    "unsigned": "Lesson {lesson}: not signed, {ago} after it ended.",
    "signed_late": "Lesson {lesson}: signed {ago} after it ended.",
    "student_waits": "Lesson {lesson}: not signed by the student, {ago} after the instructor.",
    "refused": "Lesson {lesson}: the student refused to sign it, and no correction answers the remark.",
    "no_ground_time": "Lesson {lesson}: no time of ground instruction is recorded.",
    "no_hours": "Lesson {lesson}: no hours are recorded.",
    "no_aircraft": "Lesson {lesson}: no aircraft is recorded.",
    "no_place": "Lesson {lesson}: no runway is recorded, so nobody can say where it was flown.",
    "no_off_blocks": "Lesson {lesson}: off blocks not recorded.",
    "no_on_blocks": "Lesson {lesson}: on blocks not recorded.",
    "no_block_times": "Lesson {lesson}: off and on blocks not recorded.",
    "no_takeoffs": "Lesson {lesson}: {circuits} recorded, and no takeoff.",
    "no_landings": "Lesson {lesson}: {circuits} ended with a landing, and none is counted.",
    "times_differ": "Lesson {lesson}: {flown} flown, but {block} from off to on blocks.",
    "other_day": "Lesson {lesson}: off blocks is on {blocks_on}, the lesson on {on}.",
    "night_above_total": "Lesson {lesson}: {part} night, of {flown} flown.",
    "instruments_above_total": "Lesson {lesson}: {part} by instruments, of {flown} flown.",
    "before_enrolment": "Lesson {lesson}: before the enrolment of {day}.",
    "after_training": "Lesson {lesson}: after the training ended on {day}.",
    "other_type": "Lesson {lesson}: flown in {aircraft}, and the enrolment is for the {type}.",
    "overlap_student": ("Lesson {lesson}: {times} UTC overlaps lesson {other} of the same student, {other_times}."),
    "overlap_instructor": (
        "Lesson {lesson}: {times} UTC overlaps lesson {other} of {student}, with {instructor}, {other_times}."
    ),
    "overlap_aircraft": (
        "Lesson {lesson}: {times} UTC overlaps lesson {other} of {student}, in {aircraft}, {other_times}."
    ),
    "overlap_instructor_aircraft": (
        "Lesson {lesson}: {times} UTC overlaps lesson {other} of {student}, with {instructor} and in {aircraft},"
        " {other_times}."
    ),
    "over_eight_hours": "{by} gave {hours} of flight training in the 24 hours from {begin} UTC: {lessons}.",
    "solo_with_reason": "Lesson {lesson}: solo outside a release, with its reason. {breaches}",
    "solo_without_reason": "Lesson {lesson}: solo outside a release, and no reason is written. {breaches}",
    "solo_unendorsed": "Solo {days}, and no endorsement for this type was in force.",
    "solo_endorsement_old": "Solo {days}, more than {most} days after the endorsement.",
    "release_withdrawn_endorsement": (
        "The release of {day} is in force, and the endorsement of {by} under it was withdrawn on {withdrawn}."
    ),
    "release_unendorsed": "The release of {day} is in force, and no endorsement of {by} is on record under it.",
    "release_endorsement_old": "The release of {day} is in force, and the endorsement under it is {age} days old.",
    "solo_paper": "Solo {days} without this on record and in force: {document}.",
    "solo_test": "First solo on {day}, and no test taken before it on: {topics}.",
    "certificate": "Lessons of {by} {days}: no certificate in force then is on record.",
    "discarded": "Lesson {lesson}: discarded by {by} after {entries}. Reason: {reason}",
    "discarded_empty": "Lesson {lesson}: discarded by {by} with nothing entered. Reason: {reason}",
    "long_gap": "No entry for {days} days, from {begin} to {end}.",
    "long_without": (
        "No lesson for {days} days, since the last lesson on {last}: continue the training, or end the enrolment."
    ),
    "never_begun": (
        "No lesson for {days} days, since the enrolment on {last}: continue the training, or end the enrolment."
    ),
    "test_unnamed": "The written test of {day} has no name.",
    "named_test_not_reviewed_at_solo": "“{test}”: {wrong} not reviewed when solo was flown on {day}.",
    "test_not_reviewed_at_solo": "A written test: {wrong} not reviewed when solo was flown on {day}.",
    "named_test_not_reviewed": "“{test}”: {wrong} not reviewed, {days} days after the test.",
    "test_not_reviewed": "A written test: {wrong} not reviewed, {days} days after the test.",
    "no_birth": "No date of birth: neither the age nor the end of a medical can be shown.",
    "no_papers": "No document is on record: student pilot certificate, medical, proof of identity.",
    "end_not_certified": "Training {end} on {day}, not certified by the chief instructor.",
}


def say(key: str, **values: object) -> str:
    """Return the sentence of a key with its values: days are written out, all else as it is."""
    written = {name: long_date(value) if isinstance(value, date) else value for name, value in values.items()}
    return SENTENCES[key].format(**written)


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
    """Return the first of some days and how many follow: "on 3 Jun 2026 and 2 later days"."""
    later = len(days) - 1
    return f"on {long_date(min(days))}" + (f" and {plural(later, 'later day')}" if later else "")
