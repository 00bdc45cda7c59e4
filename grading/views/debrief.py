"""Show the debrief of a signed lesson, and take the student's own view of it."""

import uuid as uuids

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import own_view
from grading.pages.debrief import debrief_context
from lessons.access import get_readable_lesson
from lessons.models import Lesson
from school.errors import Refusal

LEVEL_PREFIX = "level."


@require_GET
def debrief(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what was good, what to do better, and both views of a lesson."""
    return render(request, "grading/debrief.html", debrief_context(_signed_lesson(request, uid), request.user))


@require_POST
def write_own_view(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Take the student's own view, which is final."""
    found = _signed_lesson(request, uid)
    typed = {name: request.POST[name] for name in request.POST if name == "line" or name.startswith(LEVEL_PREFIX)}
    try:
        own_view.write_own_view(
            lesson=found,
            line=typed.get("line", ""),
            levels={name.removeprefix(LEVEL_PREFIX): value for name, value in typed.items()},
            by=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        context = {**debrief_context(found, request.user, typed), "own_view_error": str(refusal)}
        return render(request, "grading/debrief.html", context, status=422)
    return redirect("grading:debrief", found.uid)


def _signed_lesson(request: HttpRequest, uid: uuids.UUID) -> Lesson:
    found = get_readable_lesson(request.user, uid)
    if not found.is_signed:
        raise Http404("The debrief of a lesson is there once the lesson is signed.")
    return found
