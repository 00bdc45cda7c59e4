"""Show and change aircraft, aerodromes and runways, for administrator and chief instructor."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from school import actions as school_actions
from school import fleet, places
from school.aircraft_documents import CAUTION_DAYS, AircraftExpiry, fleet_expiries
from school.current import school_day
from school.errors import Refusal
from school.fleet_forms import TypeIssueForm
from school.forms import AddAircraftForm, AerodromeForm, AircraftTypeForm, RunwayForm, TypeFeaturesForm
from school.models import Aerodrome, Aircraft, AircraftType, Person, Runway, School
from school.permissions import can_manage_places

GATES_STAY = (
    " Its gates stay as they are published: the chief instructor publishes new ones where a speed rests on these"
    " figures."
)


def require_manager(request: HttpRequest) -> Person:
    """Return the person of the request. PermissionDenied for whoever does not keep aircraft and aerodromes."""
    if not can_manage_places(request.user):
        raise PermissionDenied("Only the administrator and the chief instructor manage aircraft and aerodromes.")
    keeper: Person = request.user
    return keeper


@require_http_methods(["GET", "POST"])
def aircraft(request: HttpRequest) -> HttpResponse:
    """List every aircraft and whether it is in service, and add one."""
    keeper = require_manager(request)
    form = AddAircraftForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = school_actions.add_aircraft(**form.cleaned_data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error("registration", str(refusal))
        else:
            messages.info(request, f"{added} is on record.")
            return redirect("school:aircraft")
    return _render_aircraft(request, form=form) if form.errors else _render_aircraft(request, status=200)


def _render_aircraft(request: HttpRequest, status: int = 422, **shown: Any) -> HttpResponse:
    """Show the list with its forms; `shown` has what was refused. Three queries."""
    today = school_day(timezone.now())
    found: dict[int, list[AircraftExpiry]] = {}
    for expiry in fleet_expiries(today, CAUTION_DAYS):
        found.setdefault(expiry.aircraft.pk, []).append(expiry)
    held = Count("papers", filter=Q(papers__voided_at=None))
    aircraft_rows = Aircraft.objects.select_related("type").annotate(documents=held)
    aircraft_rows = aircraft_rows.order_by("-in_service", "registration")
    context = {
        "rows": [(row, found.get(row.pk, [])) for row in aircraft_rows],
        "form": AddAircraftForm(),
        "types": _type_forms(),
    }
    return render(request, "school/aircraft.html", context | shown, status=status)


@require_POST
def change_service(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an aircraft in or out of service; one that is out is not offered for a lesson, and its flights stay."""
    keeper, one = require_manager(request), get_object_or_404(Aircraft, pk=pk)
    wanted = request.POST.get("in_service") == "yes"
    reason = request.POST.get("reason", "")[:200]
    try:
        places.set_in_service(aircraft=one, in_service=wanted, reason=reason, by=keeper, at=timezone.now())
    except Refusal as refusal:
        return _render_aircraft(request, refused=str(refusal))
    messages.info(request, f"{one.registration} is {'in' if wanted else 'out of'} service.")
    return redirect("school:aircraft")


@require_POST
def change_type(request: HttpRequest, pk: int) -> HttpResponse:
    """Record flaps and horsepower of a type whose horsepower nobody knew."""
    keeper, one = require_manager(request), get_object_or_404(AircraftType, pk=pk)
    form = TypeFeaturesForm(request.POST, prefix=f"t{pk}")
    if not form.is_valid():
        return _render_aircraft(request, types=_type_forms({pk: form}))
    try:
        places.record_type_features(aircraft_type=one, **form.cleaned_data, by=keeper, at=timezone.now())
    except Refusal as refusal:
        return _render_aircraft(request, refused=str(refusal))
    messages.info(request, f"{one} is saved.")
    return redirect("school:aircraft")


@require_http_methods(["GET", "POST"])
def add_type(request: HttpRequest) -> HttpResponse:
    """Add an aircraft type; its gates and its aircraft come after it."""
    keeper = require_manager(request)
    form = AircraftTypeForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            added = places.add_type(**form.cleaned_data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error("name", str(refusal))
        else:
            messages.info(request, f"{added} is saved. Add its aircraft here; the chief instructor enters its gates.")
            return redirect("school:aircraft")
    return render(request, "school/add_type.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def edit_type(request: HttpRequest, pk: int) -> HttpResponse:
    """Correct a type until gates or students rest on it; then put a new issue of its figures in force."""
    keeper, one = require_manager(request), get_object_or_404(AircraftType, pk=pk)
    typed, used = request.POST if request.method == "POST" else None, places.is_type_used(one)
    kind = TypeIssueForm if used else AircraftTypeForm
    form = kind(typed, initial={name: getattr(one, name) for name in places.ALL_TYPE_FIELDS})
    if form.is_valid():
        try:
            saved = _save_type(one, form, keeper)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{saved} is saved.{GATES_STAY if used else ''}")
            return redirect("school:aircraft")
    context = {"type": one, "form": form, "used": used}
    return render(request, "school/edit_type.html", context, status=422 if form.errors else 200)


def _save_type(one: AircraftType, form: AircraftTypeForm, keeper: Person) -> AircraftType:
    now, figures = timezone.now(), form.cleaned_data
    if not isinstance(form, TypeIssueForm):
        return places.edit_type(aircraft_type=one, changes=figures, by=keeper, at=now)
    return fleet.issue_type_figures(aircraft_type=one, figures=figures, reason=figures["reason"], by=keeper, at=now)


def _type_forms(refused: dict[int, TypeFeaturesForm] | None = None) -> list[tuple[AircraftType, TypeFeaturesForm]]:
    """Return every type with its form; the page has one for each, so a prefix tells their fields apart. One query."""
    return [
        (
            row,
            (refused or {}).get(row.pk)
            or TypeFeaturesForm(initial={"horsepower": row.horsepower, "flaps": row.flaps}, prefix=f"t{row.pk}"),
        )
        for row in AircraftType.objects.order_by("name")
    ]


@require_http_methods(["GET", "POST"])
def aerodromes(request: HttpRequest) -> HttpResponse:
    """List every aerodrome, and add one."""
    keeper = require_manager(request)
    form = AerodromeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            added = places.add_aerodrome(**form.cleaned_data, by=keeper, at=timezone.now())
        except Refusal as refusal:
            form.add_error("ident", str(refusal))
        else:
            messages.info(request, f"{added} has been added. Enter its runways next.")
            return redirect("school:aerodrome", added.pk)
    rows = Aerodrome.objects.prefetch_related("runways").order_by("name", "pk")
    home = School.objects.values_list("aerodrome", flat=True).first()
    context = {"rows": rows, "home": home, "form": form}
    return render(request, "school/aerodromes.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def aerodrome(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and edit one aerodrome with its runways."""
    keeper, one = require_manager(request), get_object_or_404(Aerodrome, pk=pk)
    if request.method != "POST":
        return _render_aerodrome(request, one)
    form = AerodromeForm(request.POST, instance=one)
    if form.is_valid():
        changes = form.cleaned_data
        return _act_and_redirect(
            request, one, lambda: places.edit_aerodrome(aerodrome=one, changes=changes, by=keeper, at=timezone.now())
        )
    return _render_aerodrome(request, one, form=form)


@require_POST
def add_runway(request: HttpRequest, pk: int) -> HttpResponse:
    keeper, one = require_manager(request), get_object_or_404(Aerodrome, pk=pk)
    form = RunwayForm(request.POST)
    if not form.is_valid():
        return _render_aerodrome(request, one, runway_form=form)
    return _act_and_redirect(
        request, one, lambda: places.add_runway(aerodrome=one, **form.cleaned_data, by=keeper, at=timezone.now())
    )


@require_POST
def edit_runway(request: HttpRequest, pk: int) -> HttpResponse:
    keeper = require_manager(request)
    runway = get_object_or_404(Runway.objects.select_related("aerodrome"), pk=pk)
    # The page has a form for each runway: the prefix tells their fields apart.
    form = RunwayForm(request.POST, prefix=f"r{pk}")
    if not form.is_valid():
        return _render_aerodrome(request, runway.aerodrome, edited={pk: form})
    changes = form.cleaned_data
    return _act_and_redirect(
        request,
        runway.aerodrome,
        lambda: places.edit_runway(runway=runway, changes=changes, by=keeper, at=timezone.now()),
    )


def _act_and_redirect(request: HttpRequest, one: Aerodrome, act: Any) -> HttpResponse:
    try:
        act()
    except Refusal as refusal:
        return _render_aerodrome(request, Aerodrome.objects.get(pk=one.pk), refused=str(refusal))
    messages.info(request, "Saved.")
    return redirect("school:aerodrome", one.pk)


def _render_aerodrome(
    request: HttpRequest,
    one: Aerodrome,
    refused: str = "",
    form: AerodromeForm | None = None,
    runway_form: RunwayForm | None = None,
    edited: dict[int, RunwayForm] | None = None,
) -> HttpResponse:
    fields = ("designator", "heading_magnetic", "length_ft", "circuit")
    rows = [
        (
            runway,
            (edited or {}).get(runway.pk)
            or RunwayForm(initial={name: getattr(runway, name) for name in fields}, prefix=f"r{runway.pk}"),
        )
        for runway in one.runways.order_by("designator")
    ]
    context = {
        "aerodrome": Aerodrome.objects.get(pk=one.pk),  # as it is kept, not as a refused form left it
        "form": form or AerodromeForm(initial={name: getattr(one, name) for name in AerodromeForm.base_fields}),
        "runways": rows,
        "runway_form": runway_form or RunwayForm(),
        "refused": refused,
    }
    wrong = bool(refused or form or runway_form or edited)
    return render(request, "school/aerodrome.html", context, status=422 if wrong else 200)
