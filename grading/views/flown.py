"""Show circuits as they were flown: one of a lesson, or all of them over each other."""

import uuid as uuids

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from grading.pages import flown
from lessons.access import get_readable_lesson
from lessons.models import Lesson


@require_GET
def circuit(request: HttpRequest, uid: uuids.UUID, number: int) -> HttpResponse:
    """Show one circuit: the numbers at its gates in pictures and as a table."""
    found = get_readable_lesson(request.user, uid)
    numbers = _circuit_numbers(found)
    if number not in numbers:
        raise Http404("There is no such circuit in this lesson.")
    context = {"lesson": found, "number": number, "numbers": numbers, "page": flown.circuit_fragment(found, number)}
    return render(request, "grading/circuit.html", context)


@require_GET
def circuits(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show all circuits of a lesson over each other."""
    found = get_readable_lesson(request.user, uid)
    context = {"lesson": found, "numbers": _circuit_numbers(found), "page": flown.circuits_fragment(found)}
    return render(request, "grading/circuits.html", context)


def _circuit_numbers(lesson: Lesson) -> list[int]:
    return list(lesson.circuits.order_by("number").values_list("number", flat=True))
