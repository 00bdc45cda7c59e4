"""Open a school: the first page of an empty installation."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from grading.actions.opening import open_school
from grading.forms.opening import Opening
from school.errors import Refusal
from school.models import School
from school.rate_limits import is_over_limit

MAX_OPENINGS_PER_MINUTE = 10  # so that the code is not guessed


@login_not_required
# The opening code and the first password must not be in an error report.
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def school_opening(request: HttpRequest) -> HttpResponse:
    """Ask for the school, its aerodrome, a first aircraft and a person, step by step; 404 once there is a school."""
    # The page is open to everybody until there is a school; open_school() checks again under a lock.
    if School.objects.exists():
        raise Http404("The school has already been set up.")
    opening, now = Opening(request.POST), timezone.now()
    if request.method == "GET":
        return _render(request, opening.show(0, anew=False))
    if "back" in request.POST:
        return _render(request, opening.show(max(0, opening.step - 1), anew=True))
    whole = opening.step == opening.last
    # Before the code is compared, so that a refused guess counts as well.
    if whole and is_over_limit("open", request, MAX_OPENINGS_PER_MINUTE, now):
        refused = "There were too many attempts within a minute. Wait a minute, then send it again: nothing is lost."
        return _render(request, opening.show(opening.last, anew=True) | {"refused": refused}, status=429)
    if (wrong := opening.first_wrong()) is not None:
        return _render(request, opening.show(wrong, anew=False), status=422)
    if not whole:
        return _render(request, opening.show(opening.step + 1, anew=True))
    try:
        open_school(
            **opening.school.cleaned_data,
            home=opening.home.home(),
            aircraft=opening.aircraft.aircraft(),
            first=opening.first_person(),
            at=now,
        )
    except Refusal as refusal:
        # The code is in the first part, and so is the time zone.
        return _render(request, opening.show(0, anew=False) | {"refused": str(refusal)}, status=422)
    messages.info(request, "The school is set up. Log in: the first page says what comes next.")
    return redirect("school:login")


def _render(request: HttpRequest, context: dict[str, Any], status: int = 200) -> HttpResponse:
    return render(request, "grading/school_opening.html", context, status=status)
