"""Search by name: students past and present, staff, aircraft, lessons by number, syllabuses."""

import re
from functools import reduce
from operator import and_
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import F, Model, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from lessons.models import Enrolment, Lesson, Syllabus
from school.models import Aircraft, Person, Role
from school.permissions import can_see_all_students

MAX_PER_KIND = 20  # of each kind; more words narrow it


@require_GET
def search(request: HttpRequest) -> HttpResponse:
    if not can_see_all_students(request.user):
        raise PermissionDenied("Your own page shows your records.")
    # Bounded, because each word becomes a condition on every field that is searched.
    asked = request.GET.get("q", "").strip()[:60]
    found = _search(asked.split()) if asked else {}
    count = sum(map(len, found.values()))
    return render(
        request, "grading/search.html", {"query": asked, "results": found, "count": count, "most": MAX_PER_KIND}
    )


def _search(words: list[str]) -> dict[str, list[Any]]:
    people = Person.objects.filter(_match_words(words, "family_name", "given_name", "reference"))
    staff = people.filter(roles__overlap=[Role.INSTRUCTOR, Role.CHIEF, Role.ADMIN])
    enrolments = Enrolment.objects.for_pages().filter(
        _match_words(words, "student__family_name", "student__given_name", "student__reference")
    )
    aircraft = Aircraft.objects.select_related("type").filter(_match_words(words, "registration", "type__name"))
    # Whoever is in training first, then those whose training ended, the latest first.
    training = F("ended_on").desc(nulls_first=True)
    return {
        "students": _first_rows(
            enrolments.order_by(training, "student__family_name", "student__given_name", "pk"),
        ),
        "lessons": _first_rows(_numbered_lesson(words)),
        "staff": _first_rows(staff.by_name()),
        "aircraft": _first_rows(aircraft.order_by("registration")),
        "syllabuses": _first_rows(
            Syllabus.objects.filter(_match_words(words, "title", "code")).order_by("title", "-issue")
        ),
    }


def _numbered_lesson(words: list[str]) -> QuerySet[Lesson]:
    """Return the lessons that a name with a number means."""
    # Other digits and longer numbers are no lesson's, and could overflow its column.
    numbers = [word for word in words if re.fullmatch(r"[0-9]{1,4}", word)]
    names = [word for word in words if word not in numbers]
    # A number alone would list a lesson of every student.
    if len(numbers) != 1 or not names:
        return Lesson.objects.none()
    named = _match_words(names, "enrolment__student__family_name", "enrolment__student__given_name")
    return Lesson.objects.for_pages().current().filter(named, number=numbers[0]).newest_first()


def _match_words(words: list[str], *fields: str) -> Q:
    """Return the condition that each word occurs in one of the fields."""
    return reduce(and_, (Q(*((f"{field}__icontains", word) for field in fields), _connector=Q.OR) for word in words))


def _first_rows(rows: QuerySet[Any]) -> list[Model]:
    return list(rows[:MAX_PER_KIND])
