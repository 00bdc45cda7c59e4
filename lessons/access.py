"""Fetch an object for a person, or refuse, so that a view cannot forget the check.

What a person may not know about is 404; what they may read but not do is 403.
"""

import uuid

from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import Http404

from lessons.models import DiscardedLesson, Enrolment, Lesson
from school.models import Person, Role
from school.permissions import can_see_all_students, can_teach


def can_write_lesson(person: Person, lesson: Lesson) -> bool:
    """Return whether a person gave this lesson and it is not signed yet."""
    return can_teach(person) and lesson.instructor_id == person.pk and not lesson.is_signed


def get_readable_student(person: Person, pk: int) -> Person:
    """Return any student for the staff, themselves for a student; also somebody who was a student before."""
    # A record outlives the role: somebody who was ever enrolled can still be read.
    trained = Q(roles__contains=[Role.STUDENT]) | Q(Exists(Enrolment.objects.filter(student=OuterRef("pk"))))
    student: Person | None = Person.objects.filter(trained, pk=pk).first()
    if student is None or not (can_see_all_students(person) or student.pk == person.pk):
        raise Http404("There is no such student for you.")
    return student


def get_readable_enrolment(person: Person, uid: uuid.UUID) -> Enrolment:
    enrolment = Enrolment.objects.for_pages().filter(uid=uid).first()
    # One answer for both: a different one would show a guesser which records exist.
    if enrolment is None or not (can_see_all_students(person) or enrolment.student_id == person.pk):
        raise Http404("There is no such student for you.")
    return enrolment


def get_readable_lesson(person: Person, uid: uuid.UUID, rows: QuerySet[Lesson] | None = None) -> Lesson:
    """Return any lesson for the staff, and for a student their own once it is signed. `rows`: with what it is read."""
    rows = Lesson.objects.for_pages().select_related("superseded_by") if rows is None else rows
    lesson = rows.filter(uid=uid).first()
    # A student reads only what the instructor has signed: before that the lesson is still being written.
    own = lesson is not None and lesson.enrolment.student_id == person.pk and lesson.is_signed
    if lesson is None or not (own or can_see_all_students(person)):
        raise Http404("There is no such lesson for you.")
    return lesson


def get_readable_discarded(person: Person, uid: uuid.UUID) -> DiscardedLesson:
    """Return any discarded lesson for the staff, and for a student their own: it concerned them."""
    rows = DiscardedLesson.objects.select_related("enrolment__student", "unit", "instructor", "discarded_by")
    lesson = rows.filter(uid=uid).first()
    if lesson is None or not (can_see_all_students(person) or lesson.enrolment.student_id == person.pk):
        raise Http404("There is no such lesson for you.")
    return lesson


def get_writable_lesson(person: Person, uid: uuid.UUID) -> Lesson:
    lesson = get_readable_lesson(person, uid)
    # Checked first: can_write_lesson() refuses a signed lesson too, and the sentence below would give a wrong reason.
    if lesson.is_signed:
        raise PermissionDenied("This lesson is signed and final. Make a correction instead.")
    if not can_write_lesson(person, lesson):
        raise PermissionDenied(f"Only {lesson.instructor}, who gives this lesson, may write in it.")
    return lesson
