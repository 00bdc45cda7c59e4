"""This module reads the grades of the last lessons: a row for each manoeuvre, a column for each lesson."""

from collections.abc import Sequence
from dataclasses import dataclass

from grading.models import Grade
from lessons.models import Lesson

LESSONS_IN_GRID = 10


@dataclass(frozen=True)
class GradeGrid:
    """Lessons from the oldest to the newest; for each manoeuvre its title and a grade for each, None without one."""

    lessons: Sequence[Lesson]
    rows: Sequence[tuple[str, Sequence[Grade | None]]]


def read_grade_grid(lessons: Sequence[Lesson]) -> GradeGrid:
    """Return the grid of the last of these lessons, which come in the order flown. One query."""
    shown = lessons[-LESSONS_IN_GRID:]
    column = {lesson.pk: place for place, lesson in enumerate(shown)}
    rows: dict[tuple[int, str], list[Grade | None]] = {}
    for grade in Grade.objects.filter(lesson__in=shown).select_related("manoeuvre"):
        # By order and title and not by row: after a move to another issue the same manoeuvre is another row of the
        # table, and one line here.
        key = grade.manoeuvre.order, grade.manoeuvre.title
        rows.setdefault(key, [None] * len(shown))[column[grade.lesson_id]] = grade
    return GradeGrid(shown, [(title, cells) for (_, title), cells in sorted(rows.items(), key=lambda row: row[0])])
