"""Show the approaches that flight tracks hold over each other, to the chief instructor."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from grading.pages.approaches import approaches_context
from school.permissions import can_decide


@require_GET
def approaches(request: HttpRequest) -> HttpResponse:
    """Show all approaches of a student, or of a month on one runway."""
    if not can_decide(request.user):
        raise PermissionDenied("The approaches of all students are for the chief instructor.")
    return render(request, "grading/approaches.html", approaches_context(request.GET))
