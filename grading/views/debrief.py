"""Show the debrief of a signed lesson, and take the student's own view of it."""

import uuid as uuids

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import own_view
from grading.pages.debrief import debrief_context, debrief_fragment
from lessons.access import get_readable_lesson
from lessons.models import Lesson
from school.errors import Refusal
from school.fragment_cache import CachedFragment

LEVEL_PREFIX = "level."


@require_GET
def debrief(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what was good, what to do better, and both views of a lesson."""
    found = _signed_lesson(request, uid, Lesson.objects.for_kept_pages())
    return render(request, "grading/debrief.html", {"lesson": found, "page": debrief_fragment(found, request.user)})


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
        # Drawn anew, with what was typed.
        page = CachedFragment("", lambda: debrief_context(found, request.user, typed))
        context = {"lesson": found, "page": page, "own_view_error": str(refusal)}
        return render(request, "grading/debrief.html", context, status=422)
    messages.info(request, "Your view is saved. Your instructor’s view is beside it now.")
    return redirect("grading:debrief", found.uid)


def _signed_lesson(request: HttpRequest, uid: uuids.UUID, rows: QuerySet[Lesson] | None = None) -> Lesson:
    found = get_readable_lesson(request.user, uid, rows)
    if not found.is_signed:
        raise Http404("The debrief of a lesson is available once the lesson is signed.")
    return found
