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
    """Build the matrix from flights with an instructor, in the type of the enrolment, that logged an item."""
    code = enrolment.aircraft_type.code
    # Training counts in flight, for the make and model it was given in (14 CFR 61.87(c)(1), (d)).
    logged = [
        lesson
        for lesson in row.history.lessons
        if lesson.training and lesson.kind in TRAINING_FLIGHTS and lesson.aircraft_type == code
    ]
    lessons = logged[-LESSONS_SHOWN:]
    items = training_items(enrolment.syllabus_id)
    return TrainingMatrix(
        lessons,
        # Lessons flown under an older issue logged whole items, which count for their halves.
        [
            (
                item,
                [lesson if {item.code, whole_item(item.code)} & set(lesson.training) else None for lesson in lessons],
            )
            for item in items
        ],
    )
