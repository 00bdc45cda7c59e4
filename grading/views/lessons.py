"""List an instructor's open lessons and students, and begin a lesson."""

import uuid
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from grading.actions import beginning
from grading.pages.before_flight import warnings_at_beginning
from grading.pages.today import today_context
from grading.reading.course_progress import courses_by_enrolment
from lessons.access import get_readable_enrolment
from lessons.forms import BeginLessonForm
from lessons.models import Enrolment, Lesson
from lessons.queries import Course
from school.current import school_day
from school.errors import Refusal
from school.permissions import can_see_all_students, can_teach


@require_GET
def lessons(request: HttpRequest) -> HttpResponse:
    """Show who flies with an instructor, the lessons that are open, and everybody else behind a search."""
    person = request.user
    if not can_see_all_students(person):
        raise PermissionDenied("The lessons of all students are for staff.")
    # Bounded, because each word becomes a condition on every field that is searched.
    query = request.GET.get("q", "").strip()[:60]
    return render(request, "grading/lessons.html", today_context(person, school_day(timezone.now()), query))


@require_http_methods(["GET", "POST"])
def begin_lesson(request: HttpRequest, uid: uuid.UUID) -> HttpResponse:
    """Open the record of a lesson with one student."""
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_teach(request.user):
        raise PermissionDenied("Only an instructor may give lessons.")
    now = timezone.now()
    today = school_day(now)
    course = courses_by_enrolment([enrolment], today)[enrolment.pk]
    form = BeginLessonForm(request.POST or None, enrolment=enrolment, initial=_initial_values(enrolment, course, today))
    if request.method == "POST" and form.is_valid():
        try:
            lesson = beginning.begin_lesson(**form.cleaned_data, instructor=request.user, by=request.user, at=now)
        except beginning.ReasonNeeded as refusal:
            form.add_error("outside_release", str(refusal))
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            if lesson.on > today:
                day = f"{lesson.on.day} {lesson.on:%b %Y}"
                messages.info(request, f"This lesson is dated {day}, which is still to come: sign it on that day.")
            return redirect("grading:lesson", lesson.uid)
    context = {
        "form": form,
        "enrolment": enrolment,
        "course": course,
        "warnings": warnings_at_beginning(_described_lesson(form, enrolment, course)),
    }
    return render(request, "grading/begin_lesson.html", context, status=422 if form.errors else 200)


def _described_lesson(form: BeginLessonForm, enrolment: Enrolment, course: Course) -> Lesson:
    """Return the lesson that the form describes, unsaved; what is not chosen yet is as the page proposes it."""
    chosen = form.cleaned_data if form.is_bound else {}
    unit = chosen.get("unit") or course.current_unit.to_model()
    on = chosen.get("on") or form.initial["on"]
    # Proposed with its aircraft: a release is for one type, and every aircraft offered is of the student's.
    aircraft = chosen.get("aircraft") or form.fields["aircraft"].queryset.first()
    return Lesson(enrolment=enrolment, unit=unit, on=on, aircraft=aircraft, runway=chosen.get("runway"))


def _initial_values(enrolment: Enrolment, course: Course, today: date) -> dict[str, Any]:
    """Return what this student most likely flies today: the next unit, the aircraft and runway of last time."""
    last = enrolment.lessons.exclude(aircraft=None).newest_first().first()
    return {
        "enrolment": enrolment.pk,
        "unit": course.current_unit.pk,
        "on": today,
        "aircraft": last.aircraft_id if last else None,
        "runway": last.runway_id if last else None,
    }
