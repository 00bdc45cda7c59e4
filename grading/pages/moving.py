"""This module shows before students move to another issue of their syllabus what each of them gains and loses."""

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from grading.reading.course_progress import best_levels, courses_by_enrolment
from lessons.models import Enrolment, Syllabus
from lessons.models.published_values import PublishedUnit
from lessons.moving import reasons_against
from lessons.queries import Course, load_courses_after_move

MappedKeys = Mapping[int, int | None]


@dataclass(frozen=True)
class CourseMove:
    """A student of the choice with the course before and after; `refused`: why the student cannot move."""

    enrolment: Enrolment
    before: Course
    after: Course
    mapping: MappedKeys
    ticked: bool
    refused: str

    @property
    def moves(self) -> bool:
        return self.ticked and not self.refused

    @property
    def loses(self) -> list[PublishedUnit]:
        """Return the completed units that complete nothing in the new issue."""
        complete = {row.unit.pk for row in self.after.unit_progress if row.complete}
        done = [row.unit for row in self.before.unit_progress if row.complete]
        return [unit for unit in done if self.mapping.get(unit.pk) not in complete]

    @property
    def gains(self) -> list[PublishedUnit]:
        """Return the units of the new issue that are complete without a completed unit that became them."""
        became = {self.mapping.get(row.unit.pk) for row in self.before.unit_progress if row.complete}
        return [row.unit for row in self.after.unit_progress if row.complete and row.unit.pk not in became]

    @property
    def words(self) -> str:
        before, after = _far(self.before), _far(self.after)
        return f"{before}, as before" if before == after else f"{after}; now {before}"


def _far(course: Course) -> str:
    complete = sum(row.complete for row in course.unit_progress)
    return f"{complete} of {len(course.units)} units complete, next unit {course.current_unit.number}"


def moved_students(
    enrolments: Sequence[Enrolment], ticked: Collection[UUID], after: Syllabus, mapping: MappedKeys, on: date
) -> list[CourseMove]:
    """Return what the move would bring each student. Ten queries, however many students."""
    courses, reached = courses_by_enrolment(enrolments, on), best_levels(enrolments, on)
    moved = load_courses_after_move(enrolments, on, reached, after.pk, mapping)
    against = reasons_against(enrolments, after)
    changes = [
        CourseMove(row, courses[row.pk], moved[row.pk], mapping, row.uid in ticked, against.get(row.pk, ""))
        for row in enrolments
    ]
    # Whom the move costs or brings something first, then by name, as they came.
    return sorted(changes, key=lambda row: (not row.refused, not row.loses, not row.gains))


def digest_of(changes: Sequence[CourseMove], after: Syllabus) -> str:
    """Return a digest of what is shown, which the form sends back: what is done is what was looked at."""
    shown = [f"{row.enrolment.uid} {row.words} {len(row.loses)}" for row in changes if row.moves]
    mapping = sorted(changes[0].mapping.items()) if changes else []
    return hashlib.sha256(f"{after.pk} {mapping} {shown}".encode()).hexdigest()[:16]
