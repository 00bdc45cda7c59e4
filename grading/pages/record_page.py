"""This module gathers what a lesson record shows to its readers."""

from typing import Any

from grading.models import Grade, Seal, Signature
from grading.pages.brief import wind_context
from grading.pages.lesson_page import LessonPage
from lessons.models import Lesson
from school.models import Person
from school.permissions import can_see_all_students


def lesson_record_context(lesson: Lesson, reader: Person) -> dict[str, Any]:
    page = LessonPage(lesson)
    signatures = {row.capacity: row for row in Signature.objects.filter(lesson=lesson)}
    own = reader.pk == lesson.enrolment.student_id
    # A reverse one-to-one relation raises AttributeError where there is no row, as for most lessons.
    corrected = getattr(lesson, "superseded_by", None)
    return {
        "lesson": lesson,
        "circuits": [page.circuit_line(circuit) for circuit in page.circuits],
        "grades": Grade.objects.filter(lesson=lesson).select_related("manoeuvre").order_by("manoeuvre__order"),
        "attempts_alone": [row for row in page.attempts if row.circuit_id is None and row.level],
        "instructor_signature": signatures.get("instructor"),
        "student_signature": signatures.get("student"),
        "seal": Seal.objects.filter(kind=Seal.Kind.LESSON, subject=lesson.uid).first(),
        "may_acknowledge": own and lesson.is_signed and "student" not in signatures,
        # An unsigned correction bars another one too, so that the versions of a lesson form one line.
        "may_correct": lesson.is_signed and lesson.instructor_id == reader.pk and corrected is None,
        # An unsigned correction replaces nothing yet, and its student may not read it.
        "corrected_by": corrected if corrected and corrected.is_signed else None,
        "own": own,
        "may_see_taps": can_see_all_students(reader),
        # Without releases: a record says what the wind was; cautions about a release are for a flight to come.
        **wind_context(lesson),
    }
