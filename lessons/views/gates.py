"""The gates of each aircraft type: read by the staff, changed by the chief instructor in a draft, then published."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from lessons import publishing
from lessons.drawing import draw_gates
from lessons.forms import TypicalCircuitForm
from lessons.gate_draft import QUANTITIES, Raw, empty_gate, parse_raw, raw_from_post, sort_by_distance
from lessons.loading import gate_set_spec, home_runways, stall_speeds
from lessons.models import Enrolment, GateDraft, GateSet
from lessons.rules.differences import gate_differences
from lessons.rules.gate_rules import PHASES, QUANTITY_UNITS, GateProblem, GateSetSpec, find_problems
from lessons.rules.pattern import Leg, Shape
from lessons.rules.typical_circuit import CircuitKind, typical_gates
from school.current import get_school, school_day
from school.errors import Refusal
from school.formats import write_day, write_number
from school.models import AircraftType
from school.permissions import can_decide, can_see_all_students

TYPICAL_WIDTH_FT = 4500  # three quarters of a mile (common practice: half a mile to a mile)


@require_GET
def gates(request: HttpRequest) -> HttpResponse:
    """Show every type with its gates in force."""
    _require_staff(request)
    today = school_day(timezone.now())
    # Read once for all types: a query for each type would grow with the fleet.
    in_force = {row.aircraft_type_id: row for row in GateSet.objects.in_force(today)}
    drafts = set(GateDraft.objects.values_list("aircraft_type", flat=True))
    types = [(row, in_force.get(row.pk), row.pk in drafts) for row in AircraftType.objects.order_by("name")]
    return render(request, "lessons/gates.html", {"types": types, "can_decide": can_decide(request.user)})


@require_GET
def gate_set(request: HttpRequest, code: str) -> HttpResponse:
    """Show one issue of a type's gates as drawings and as a table."""
    _require_staff(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    issues = list(GateSet.objects.filter(aircraft_type=aircraft_type, published=True).order_by("-issue"))
    # Compared as text: an address without a number that exists shows the gates in force and no error.
    asked = request.GET.get("issue", "")
    in_force = GateSet.objects.in_force(school_day(timezone.now())).filter(aircraft_type=aircraft_type).first()
    # Before its first issue is in force, a type shows the newest one, so that the staff can read what comes.
    shown = next((row for row in issues if str(row.issue) == asked), in_force or (issues[0] if issues else None))
    form = gate_set_spec(shown) if shown else None
    context = {
        "type": aircraft_type,
        "issues": issues,
        "shown": shown,
        "in_force": in_force,
        "form": form,
        # They agreed when they were published; a later issue of the figures of the type may have moved below them.
        "problems": _numbered(find_problems(form, stall_speeds(aircraft_type))) if form and shown == in_force else [],
        "can_decide": can_decide(request.user),
        "draft": GateDraft.objects.filter(aircraft_type=aircraft_type).first(),
        **(draw_gates(form, _aerodrome()) if form else {}),
    }
    return render(request, "lessons/gate_set.html", context)


@require_http_methods(["GET", "POST"])
def edit_gates(request: HttpRequest, code: str) -> HttpResponse:
    """Edit the draft of a type's gates: each change is saved, drawn and checked; a valid draft can be published."""
    _require_chief(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    now = timezone.now()
    if request.method == "GET":
        raw = publishing.current_gate_draft(aircraft_type, school_day(now))
        return render(request, "lessons/edit_gates.html", _draft_context(aircraft_type, raw))
    act = request.POST.get("act", "keep")
    raw = _apply_act(raw_from_post(request.POST), act)
    # Saved before anything can be refused: what was typed is never lost, valid or not.
    publishing.save_gate_draft(aircraft_type=aircraft_type, raw=raw, by=request.user, at=now)
    context = _draft_context(aircraft_type, raw) | {"reason": request.POST.get("reason", "")}
    if act == "publish":
        try:
            published = publishing.publish_gates(
                aircraft_type=aircraft_type, raw=raw, reason=context["reason"], by=request.user, at=now
            )
        except Refusal as refusal:
            context["refused"] = str(refusal)
            return render(request, "lessons/edit_gates.html", context, status=422)
        messages.info(request, f"{published} are published, valid from {write_day(published.valid_from)}.")
        return redirect("lessons:gate_set", aircraft_type.code)
    # A change of one field replaces the checks and drawings only: the inputs, with the focus in them, stay.
    if request.htmx and act == "keep":
        return render(request, "lessons/edit_gates.html#checked", context | {"saved_at": now})
    return render(request, "lessons/edit_gates.html", context | {"saved_at": now})


@require_http_methods(["GET", "POST"])
def begin_gates(request: HttpRequest, code: str) -> HttpResponse:
    """Begin the first gates of a type from a typical circuit: drawn at each change, then saved as a draft."""
    _require_chief(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    now, home = timezone.now(), _aerodrome()
    typed = request.POST if request.method == "POST" else None
    start = _typical_start(aircraft_type, home.circuit_height_ft)
    form = TypicalCircuitForm(start if typed is None else typed)
    gates = _typical_gates(form, aircraft_type, school_day(now)) if form.is_valid() else None
    begins = request.method == "POST" and request.POST.get("act") == "begin"
    drawn = {"rows": _gate_rows(gates), **draw_gates(gates, home)} if gates else {}
    context = {"type": aircraft_type, "form": form, **drawn}
    if begins and gates:
        try:
            publishing.begin_gate_draft(aircraft_type=aircraft_type, form=gates, by=request.user, at=now)
        except Refusal as refusal:
            return render(request, "lessons/begin_gates.html", context | {"refused": str(refusal)}, status=422)
        messages.info(request, "The draft is saved. Replace each number by that of the flight manual, then publish.")
        return redirect("lessons:edit_gates", aircraft_type.code)
    # A change of one field brings the drawing back, the fields with the focus in them stay.
    template = "lessons/begin_gates.html#typical" if request.htmx and not begins else "lessons/begin_gates.html"
    return render(request, template, context, status=422 if form.errors and not request.htmx else 200)


def _typical_start(aircraft_type: AircraftType, height_ft: int) -> dict[str, Any]:
    """Return what fits the features of a type and the home aerodrome."""
    complex_ = aircraft_type.retractable and aircraft_type.constant_speed_propeller
    tail = CircuitKind.TAILWHEEL if aircraft_type.tailwheel else CircuitKind.TRICYCLE
    return {"kind": CircuitKind.COMPLEX if complex_ else tail, "height_ft": height_ft, "width_ft": TYPICAL_WIDTH_FT}


def _gate_rows(gates: GateSetSpec) -> list[tuple[str, str, str]]:
    """Return for each gate its name, how far it lies from the lift-off, and its targets in words."""
    return [
        (
            gate.name,
            f"{write_number(gate.along_ft)} ft",
            ", ".join(f"{row.quantity} {write_number(row.value)} {row.unit}" for row in gate.targets),
        )
        for gate in gates.gates
    ]


def _typical_gates(form: TypicalCircuitForm, aircraft_type: AircraftType, today: date) -> GateSetSpec:
    issue = publishing.next_gate_issue(aircraft_type)
    # From today: a type without gates has no lesson yet that others judge.
    return typical_gates(form.wish(), stall_speeds(aircraft_type), issue, today)


@require_POST
def discard_gates(request: HttpRequest, code: str) -> HttpResponse:
    """Discard the draft; the published gates stay."""
    _require_chief(request)
    aircraft_type = get_object_or_404(AircraftType, code=code)
    publishing.discard_gate_draft(aircraft_type=aircraft_type, by=request.user, at=timezone.now())
    messages.info(request, f"The draft of gates for {aircraft_type} is discarded. Published gates stay.")
    return redirect("lessons:gate_set", aircraft_type.code)


def _apply_act(raw: Raw, act: str) -> Raw:
    """Add or remove a gate, or sort the gates by distance."""
    if act == "add":
        # Sorted first and added last, so that the empty card is the last one on the page.
        return sort_by_distance(raw) | {"gates": [*sort_by_distance(raw)["gates"], empty_gate()]}
    if act.startswith("remove-") and act[7:].isdigit():
        gone = int(act[7:])
        return raw | {"gates": [gate for place, gate in enumerate(raw["gates"]) if place != gone]}
    # While somebody types, the cards stay in place: sorting would move the field away under the fingers.
    return raw if act == "keep" else sort_by_distance(raw)


def _draft_context(aircraft_type: AircraftType, raw: Raw) -> dict[str, Any]:
    form, found = parse_raw(raw, publishing.next_gate_issue(aircraft_type), stall_speeds(aircraft_type), home_runways())
    last = publishing.latest_gate_set(aircraft_type)
    in_training = Enrolment.objects.filter(aircraft_type=aircraft_type, ended_on=None)
    return {
        "last": last,
        "differences": gate_differences(gate_set_spec(last) if last else None, form) if form else [],
        "students": in_training.count(),
        "new_from": form.valid_from if form else None,
        "type": aircraft_type,
        "raw": raw,
        "issue": publishing.next_gate_issue(aircraft_type),
        "cards": [_gate_card(place, gate, found) for place, gate in enumerate(raw["gates"])],
        "problems": _numbered(found),
        "shapes": list(Shape),
        **(draw_gates(form, _aerodrome()) if form else {}),
    }


def _numbered(found: list[GateProblem]) -> list[tuple[int | None, str]]:
    """Return each sentence with the number of its gate, counted from 1 as the cards are."""
    return [(problem.gate + 1 if problem.gate is not None else None, problem.sentence) for problem in found]


def _gate_card(place: int, raw: Raw, found: list[Any]) -> dict[str, Any]:
    """Return the inputs of one gate: names, values and problems."""
    problems = [problem.sentence for problem in found if problem.gate == place]
    targets = []
    for quantity in QUANTITIES:
        typed = raw.get(quantity, {})
        # Power is set on the way round and down: elsewhere its rows would only make the form longer.
        if quantity in ("power", "propeller") and raw["phase"] not in ("circuit", "approach") and not typed:
            continue
        targets.append(
            {
                "quantity": quantity,
                "name": f"gate-{place}-{quantity}",
                "typed": typed,
                "units": QUANTITY_UNITS[quantity],
                "gusts": quantity == "speed",
            }
        )
    return {
        "place": place,
        "number": place + 1,
        "name": f"gate-{place}",
        "raw": raw,
        # What the gate asks for is shown; the rest is folded away, as is what seldom changes.
        "targets": [target for target in targets if target["typed"]],
        "other_targets": [target for target in targets if not target["typed"]],
        "opened": bool(problems) or not raw["name"],
        "legs": list(Leg),
        "phases": PHASES,
        "problems": problems,
    }


def _aerodrome() -> Any:
    return get_school().aerodrome


def _require_staff(request: HttpRequest) -> None:
    if not can_see_all_students(request.user):
        raise PermissionDenied("The gates are for staff; you find your targets in the brief of your lesson.")


def _require_chief(request: HttpRequest) -> None:
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may change the gates.")
