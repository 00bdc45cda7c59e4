"""This module compares the items of training with the lessons that logged them, for the make and model."""

from dataclasses import dataclass

from grading.reading.student_summary import StudentSummary
from grading.rules.readiness.checks.training import TRAINING_FLIGHTS
from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.training_items import whole_item
from lessons.models import Enrolment
from lessons.models.published_values import PublishedItem
from lessons.published_content import training_items

LESSONS_SHOWN = 40


@dataclass(frozen=True)
class TrainingMatrix:
    """`rows` has each item with, for each lesson of `lessons`, that lesson if it logged the item and None otherwise."""

    lessons: list[LessonFact]
    rows: list[tuple[PublishedItem, list[LessonFact | None]]]

    @property
    def missing(self) -> list[PublishedItem]:
        return [item for item, cells in self.rows if not any(cells)]


def build_training_matrix(row: StudentSummary, enrolment: Enrolment) -> TrainingMatrix:
    """Build the matrix from flights with an instructor, in the type of the enrolment, that logged an item.

    Shown are the last `LESSONS_SHOWN` of them, and of each item the last lesson that logged it.
    """
    code = enrolment.aircraft_type.code
    # Training counts in flight, for the make and model it was given in (14 CFR 61.87(c)(1), (d)).
    logged = [
        lesson
        for lesson in row.history.lessons
        if lesson.training and lesson.kind in TRAINING_FLIGHTS and lesson.aircraft_type == code
    ]
    items = training_items(enrolment.syllabus_id)
    # Lessons flown under an older issue logged whole items, which count for their halves.
    received = [
        [bool({item.code, whole_item(item.code)} & set(lesson.training)) for lesson in logged] for item in items
    ]
    # The last ones, and before them the last that logged each item: what was received long ago is not missing.
    shown = set(range(len(logged))[-LESSONS_SHOWN:])
    shown |= {max(at for at, got in enumerate(row) if got) for row in received if any(row)}
    places = sorted(shown)
    return TrainingMatrix(
        [logged[at] for at in places],
        [(item, [logged[at] if row[at] else None for at in places]) for item, row in zip(items, received, strict=True)],
    )
