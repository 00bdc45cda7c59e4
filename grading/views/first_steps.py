"""What a new school does next."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from grading.pages import first_steps as page
from school.permissions import can_see_settings


@require_GET
def first_steps(request: HttpRequest) -> HttpResponse:
    """Show administrator and chief instructor what is done and what comes next."""
    if not can_see_settings(request.user):
        raise PermissionDenied("The first steps are those of the administrator and the chief instructor.")
    steps = page.first_steps(request.user)
    context = {"steps": steps, "open": [step for step in steps if not step.done]}
    return render(request, "grading/first_steps.html", context)
