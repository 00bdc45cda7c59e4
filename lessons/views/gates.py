"""The gates of each aircraft type: read by the staff, changed by the chief instructor in a draft, then published."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import publishing
from lessons.drawing import drawings
from lessons.gate_draft import QUANTITIES, Raw, empty_gate, in_order, raw_from_post, read_raw
from lessons.loading import form_of, speeds_of
from lessons.models import GateDraft, GateSet
from lessons.rules.gate_rules import PHASES, UNITS
from lessons.rules.pattern import Leg, Shape
from school.current import the_school
from school.errors import Refused
from school.models import AircraftType
from school.permissions import can_decide, can_see_all_students


@require_GET
def gates(request: HttpRequest) -> HttpResponse:
    """Every type with its gates in force."""
    _staff(request)
    today = timezone.localdate()
    in_force = {row.aircraft_type_id: row for row in GateSet.objects.in_force(today)}
    drafts = set(GateDraft.objects.values_list("aircraft_type", flat=True))
    types = [(row, in_force.get(row.pk), row.pk in drafts) for row in AircraftType.objects.order_by("name")]
    return render(request, "lessons/gates.html", {"types": types, "can_decide": can_decide(request.user)})


@require_GET
def gate_set(request: HttpRequest, code: str) -> HttpResponse:
    """One issue of a type's gates, drawn and as a table."""
    _staff(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    issues = list(GateSet.objects.filter(aircraft_type=aircraft_type, published=True).order_by("-issue"))
    asked = request.GET.get("issue", "")
    in_force = GateSet.objects.in_force(timezone.localdate()).filter(aircraft_type=aircraft_type).first()
    shown = next((row for row in issues if str(row.issue) == asked), in_force or (issues[0] if issues else None))
    form = form_of(shown) if shown else None
    context = {
        "type": aircraft_type,
        "issues": issues,
        "shown": shown,
        "in_force": in_force,
        "form": form,
        "can_decide": can_decide(request.user),
        "draft": GateDraft.objects.filter(aircraft_type=aircraft_type).first(),
        **(drawings(form, _aerodrome()) if form else {}),
    }
    return render(request, "lessons/gate_set.html", context)


@require_http_methods(["GET", "POST"])
def edit_gates(request: HttpRequest, code: str) -> HttpResponse:
    """The draft of a type's gates: kept at each change, drawn and checked, published when nothing is wrong."""
    _chief(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    now = timezone.now()
    if request.method == "GET":
        raw = publishing.gates_as_typed(aircraft_type, now.date())
        return render(request, "lessons/edit_gates.html", _editing(aircraft_type, raw))
    act = request.POST.get("act", "keep")
    raw = _changed(raw_from_post(request.POST), act)
    publishing.keep_gates(aircraft_type=aircraft_type, raw=raw, by=request.user, at=now)
    context = _editing(aircraft_type, raw)
    if act == "publish":
        try:
            published = publishing.publish_gates(aircraft_type=aircraft_type, raw=raw, by=request.user, at=now)
        except Refused as refusal:
            context["refused"] = str(refusal)
            return render(request, "lessons/edit_gates.html", context, status=422)
        messages.info(request, f"{published} are published, valid from {published.valid_from:%d %B %Y}.")
        return redirect("lessons:gate_set", aircraft_type.code)
    if request.htmx and act == "keep":
        return render(request, "lessons/edit_gates.html#checked", context | {"kept_at": now})
    return render(request, "lessons/edit_gates.html", context | {"kept_at": now})


@require_POST
def discard_gates(request: HttpRequest, code: str) -> HttpResponse:
    """Throw the draft away; the published gates stay."""
    _chief(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    publishing.discard_gates(aircraft_type=aircraft_type, by=request.user, at=timezone.now())
    return redirect("lessons:gate_set", aircraft_type.code)


def _changed(raw: Raw, act: str) -> Raw:
    """A gate more or less; else in the order of the distances."""
    if act == "add":
        return in_order(raw) | {"gates": [*in_order(raw)["gates"], empty_gate()]}
    if act.startswith("remove-") and act[7:].isdigit():
        gone = int(act[7:])
        return raw | {"gates": [gate for place, gate in enumerate(raw["gates"]) if place != gone]}
    return raw if act == "keep" else in_order(raw)


def _editing(aircraft_type: AircraftType, raw: Raw) -> dict[str, Any]:
    form, found = read_raw(raw, publishing.next_issue(aircraft_type), speeds_of(aircraft_type))
    return {
        "type": aircraft_type,
        "raw": raw,
        "issue": publishing.next_issue(aircraft_type),
        "cards": [_card(place, gate, found) for place, gate in enumerate(raw["gates"])],
        "problems": [(problem.gate + 1 if problem.gate is not None else None, problem.sentence) for problem in found],
        "shapes": list(Shape),
        **(drawings(form, _aerodrome()) if form else {}),
    }


def _card(place: int, raw: Raw, found: list[Any]) -> dict[str, Any]:
    """One gate as its inputs stand: names, values, and what is wrong with it."""
    targets = []
    for quantity in QUANTITIES:
        typed = raw.get(quantity, {})
        targets.append(
            {
                "quantity": quantity,
                "name": f"gate-{place}-{quantity}",
                "typed": typed,
                "units": UNITS[quantity],
                "gusts": quantity == "speed",
            }
        )
    return {
        "place": place,
        "number": place + 1,
        "name": f"gate-{place}",
        "raw": raw,
        "targets": targets,
        "legs": list(Leg),
        "phases": PHASES,
        "problems": [problem.sentence for problem in found if problem.gate == place],
    }


def _aerodrome() -> Any:
    return the_school().aerodrome


def _staff(request: HttpRequest) -> None:
    if not can_see_all_students(request.user):
        raise PermissionDenied("The gates are for the staff; your targets stand in the brief of your lesson.")


def _chief(request: HttpRequest) -> None:
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor changes the gates.")
