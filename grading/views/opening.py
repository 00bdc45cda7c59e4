"""Open a school: the first page of an empty installation."""

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from grading.actions.opening import open_school
from grading.forms.opening import OpenAerodromeForm, OpenAircraftForm, OpenPersonForm, OpenSchoolForm
from school.errors import Refusal
from school.models import School
from school.rate_limits import is_over_limit

MAX_OPENINGS_PER_MINUTE = 10  # so that the code is not guessed


@login_not_required
# The opening code and the first password must not be in an error report.
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def school_opening(request: HttpRequest) -> HttpResponse:
    """Ask for the school, its aerodrome, a first aircraft and a person; 404 once there is a school."""
    # The page is open to everybody until there is a school; open_school() checks again under a lock.
    if School.objects.exists():
        raise Http404("There is a school here already.")
    sent = request.POST or None
    school, home = OpenSchoolForm(sent, prefix="school"), OpenAerodromeForm(sent, prefix="home")
    aircraft, person = OpenAircraftForm(sent, prefix="aircraft"), OpenPersonForm(sent, prefix="person")
    parts, refused = [school, home, aircraft, person], ""
    # Before the code is compared, so that a refused guess counts as well.
    if sent and is_over_limit("open", request, MAX_OPENINGS_PER_MINUTE, timezone.now()):
        refused = "This was tried too often within a minute. Wait a minute, then send it again: nothing is lost."
        return render(request, "grading/school_opening.html", {"parts": parts, "refused": refused}, status=429)
    if sent and all([part.is_valid() for part in parts]):  # every part says what is wrong in it
        try:
            open_school(
                **school.cleaned_data,
                home=home.home(),
                aircraft=aircraft.aircraft(),
                first=person.person(),
                at=timezone.now(),
            )
        except Refusal as refusal:
            refused = str(refusal)
        else:
            messages.info(request, "The school is set up. Log in: the first page says what comes next.")
            return redirect("school:login")
    return render(
        request, "grading/school_opening.html", {"parts": parts, "refused": refused}, status=422 if sent else 200
    )
