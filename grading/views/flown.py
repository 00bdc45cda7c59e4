"""Show circuits as they were flown: one of a lesson, or all of them over each other."""

import uuid as uuids

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from grading.pages import flown
from lessons.access import get_readable_lesson
from lessons.models import Lesson


@require_GET
def circuit(request: HttpRequest, uid: uuids.UUID, number: int) -> HttpResponse:
    """Show one circuit: the numbers at its gates in pictures and as a table."""
    found = get_readable_lesson(request.user, uid, Lesson.objects.for_kept_pages())
    page = flown.circuit_fragment(found, number)
    return render(request, "grading/circuit.html", {"lesson": found, "number": number, "page": page})


@require_GET
def circuits(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show all circuits of a lesson over each other."""
    found = get_readable_lesson(request.user, uid, Lesson.objects.for_kept_pages())
    return render(request, "grading/circuits.html", {"lesson": found, "page": flown.circuits_fragment(found)})
