"""Find what several lessons contradict together: two at once of one student, instructor or aircraft; hours."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import Protocol

from grading.rules.inspection.facts import InspectedLesson
from grading.rules.inspection.finding import CorrectionPage, Corrector, Finding, Weight
from grading.rules.inspection.lesson_rules import lesson_finding
from grading.rules.inspection.sentences import hours_and_minutes, say
from lessons.rules.instructor_limits import ExcessPeriod
from lessons.rules.scale import UnitKind

LessonPair = tuple[InspectedLesson, InspectedLesson]


class NamedPerson(Protocol):
    """Stand for a person of the database, which this pure module does not know."""

    pk: int

    @property
    def name(self) -> str: ...


def overlapping_pairs(lessons: Iterable[InspectedLesson]) -> dict[LessonPair, list[str]]:
    """Return the pairs of lessons that overlap in block time, the earlier first, with what they share, in words.

    One pass over the lessons by off blocks remembers, for each student, instructor and aircraft, those still on the
    way. It costs n log n for the sorting, and then as many steps as there are overlaps.
    """
    under_way: dict[tuple[str, int], list[InspectedLesson]] = defaultdict(list)
    pairs: dict[LessonPair, list[str]] = {}
    # The draft of a correction has the times of the lesson that it corrects.
    timed = [lesson for lesson in lessons if lesson.off_blocks and lesson.on_blocks and not lesson.is_correction_draft]
    for lesson in sorted(timed, key=_off_blocks):
        for who in _resources_used(lesson):
            # One that ends as this one begins does not overlap it.
            still = [row for row in under_way[who] if row.on_blocks > lesson.off_blocks]  # type: ignore[operator]
            for earlier in still:
                # One pair for all that two lessons share, so that it becomes one finding and not three.
                pairs.setdefault((earlier, lesson), []).append(who[0])
            still.append(lesson)
            under_way[who] = still
    return pairs


def _off_blocks(lesson: InspectedLesson) -> datetime:
    assert lesson.off_blocks is not None
    return lesson.off_blocks


def _resources_used(lesson: InspectedLesson) -> Iterator[tuple[str, int]]:
    """Yield whom and what a lesson occupies. A student alone leaves the instructor free on the ground."""
    yield "student", lesson.student
    # A solo unit with dual time has the instructor aboard for a part of it, so it occupies the instructor too.
    if lesson.dual or lesson.unit_kind != UnitKind.SOLO:
        yield "instructor", lesson.instructor
    if lesson.aircraft is not None:
        yield "aircraft", lesson.aircraft


def overlap_findings(
    lessons: Iterable[InspectedLesson], of: Collection[int], names: Mapping[int, str]
) -> Iterator[Finding]:
    """Yield the findings for the enrolments in `of`, in each of the two records; names: students by their key."""
    for (earlier, later), shared in overlapping_pairs(lessons).items():
        # Two lessons of one student lie in one record: one finding is enough, at the later lesson.
        if "student" in shared:
            if later.enrolment in of:
                yield _overlap_finding(later, earlier, "overlap_student")
            continue
        key = f"overlap_{'_'.join(shared)}"
        for lesson, other in ((earlier, later), (later, earlier)):
            if lesson.enrolment in of:
                yield _overlap_finding(lesson, other, key, names.get(other.student, "another student"))


def _overlap_finding(lesson: InspectedLesson, other: InspectedLesson, key: str, student: str = "") -> Finding:
    sentence = say(
        key,
        lesson=lesson.number,
        times=f"{lesson.off_blocks:%H:%M} to {lesson.on_blocks:%H:%M}",
        other=other.number,
        other_times=f"{other.off_blocks:%H:%M} to {other.on_blocks:%H:%M}",
        student=student,
        instructor=lesson.instructor_name,
        aircraft=lesson.registration,
    )
    return lesson_finding("overlap", Weight.ODD, lesson, sentence)


def instructor_hours_finding(given: tuple[NamedPerson, ExcessPeriod], on: date) -> Finding:
    """Return the finding for more than 8 hours of flight training in 24 (14 CFR 61.195(a)).

    lessons/rules/instructor_limits.py computes the excess; `on`: the day at the school on which it begins.
    """
    person, excess = given
    sentence = say(
        "over_eight_hours",
        by=person.name,
        hours=hours_and_minutes(excess.minutes),
        begin=f"{excess.begin:%H:%M}",
        lessons="; ".join(row.name for row in excess.lessons),
    )
    return Finding(
        "over_eight_hours",
        Weight.ODD,
        sentence,
        on,
        Corrector.CHIEF,
        None,
        CorrectionPage.LESSON,
        None,
        person.pk,
        person.name,
    )
