"""Show which documents expire, on a page and as a calendar with a secret address."""

import uuid as uuids

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from grading.exchange.calendar_feed import expiries_for, render_ics
from school import actions
from school.current import get_school, school_day
from school.downloads import content_disposition
from school.models import Person


@require_http_methods(["GET", "POST"])
def expiry_dates(request: HttpRequest) -> HttpResponse:
    """Show the list and the address of the calendar; a POST replaces the address."""
    now = timezone.now()
    if request.method == "POST":
        # A new address ends one that has leaked: it is a secret that others may have seen.
        actions.create_calendar_address(person=request.user, at=now)
        messages.info(request, "The new address is ready. Any older address no longer works.")
        return redirect("grading:expiry_dates")
    key = request.user.calendar_key
    address = request.build_absolute_uri(reverse("grading:calendar_feed", args=[key])) if key else ""
    return render(
        request,
        "grading/expiry_dates.html",
        {"expiries": expiries_for(request.user, school_day(now)), "address": address},
    )


@login_not_required
@require_GET
def calendar_feed(request: HttpRequest, key: uuids.UUID) -> HttpResponse:
    """Answer a calendar program, which cannot log in: the address is the secret and opens dates and names only."""
    # The address ends with a new password and with the person's access (school/accounts/): nobody logs in to read it.
    person = Person.objects.filter(calendar_key=key, is_active=True).first()
    if person is None:
        raise Http404("There is no such calendar.")
    now = timezone.now()
    title = f"{get_school().name}: expiry dates"
    return HttpResponse(
        render_ics(expiries_for(person, school_day(now)), title, now),
        content_type="text/calendar; charset=utf-8",
        headers={
            # Calendar programs ask often, and days do not change within the hour.
            "Cache-Control": "private, max-age=3600",
            "Content-Disposition": content_disposition("runs-out.ics", inline=True),
        },
    )
