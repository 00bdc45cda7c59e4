"""Show and change where a runway lies and what stands before it, for administrator and chief instructor."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from school import places
from school.errors import Refusal
from school.forms import ObstacleFormSet, RunwayPlaceForm
from school.models import Runway
from school.places import OBSTACLE_FIELDS, RUNWAY_PLACE_FIELDS
from school.views.places import require_manager


@require_http_methods(["GET", "POST"])
def runway_place(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and edit where one runway lies, with its obstacles: one form, saved as a whole."""
    keeper = require_manager(request)
    runway = get_object_or_404(Runway.objects.select_related("aerodrome"), pk=pk)
    form = RunwayPlaceForm(
        request.POST or None, runway=runway, initial={name: getattr(runway, name) for name in RUNWAY_PLACE_FIELDS}
    )
    wrong = False
    if request.method != "POST":
        rows = runway.obstacles.order_by("pk").values(*OBSTACLE_FIELDS)
        obstacles = ObstacleFormSet(initial=list(rows), prefix="obstacle")
    else:
        # Without the stored rows: what is sent is the whole list, and a row that equals a stored one is no empty row.
        obstacles = ObstacleFormSet(request.POST, prefix="obstacle")
        # Both are looked at, so that one answer names all that is wrong.
        wrong = not all([form.is_valid(), obstacles.is_valid()])
        if not wrong:
            kept = [row.cleaned_data for row in obstacles if row.cleaned_data and not row.cleaned_data.get("DELETE")]
            try:
                places.place_runway(
                    runway=runway,
                    place=form.cleaned_data,
                    obstacles=[{name: row[name] for name in OBSTACLE_FIELDS} for row in kept],
                    by=keeper,
                    at=timezone.now(),
                )
            except Refusal as refusal:
                form.add_error("aiming_point_ft", str(refusal))
                wrong = True
            else:
                messages.info(request, f"Runway {runway.designator} is saved.")
                return redirect("school:aerodrome", runway.aerodrome_id)
    context = {"runway": runway, "form": form, "obstacles": obstacles}
    return render(request, "school/runway_place.html", context, status=422 if wrong else 200)
