"""Show the standard in force to the staff; the chief instructor sets the school's thresholds in the next one."""

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions.standards import (
    VALUE_BOUNDS,
    VALUE_LABELS,
    offered_requirements,
    policy_limits,
    publish_standard,
)
from grading.models import Standard
from lessons.fields import is_plausible_date
from school.current import get_school
from school.errors import Refusal
from school.permissions import can_decide, can_see_all_students


@require_http_methods(["GET", "POST"])
def standard(request: HttpRequest) -> HttpResponse:
    """Show every requirement with its source, and the form for the next standard."""
    if not can_see_all_students(request.user):
        raise PermissionDenied("Your own page shows what is asked of you.")
    now = timezone.now()
    school = get_school()
    in_force = Standard.objects.in_force(rule_set=school.rule_set, on=now.date()).get()
    # The last one published, in force or not yet: built on an older one, the next would lose its changes.
    base = Standard.objects.filter(rule_set=school.rule_set).order_by("-valid_from").first() or in_force
    refused = ""
    if request.method == "POST":
        if not can_decide(request.user):
            raise PermissionDenied("Only the chief instructor sets the standard.")
        try:
            made = _publish(request, base, now)
        except Refusal as refusal:
            refused = str(refusal)
        else:
            messages.info(request, f"The standard {made.key} is in force from {made.valid_from:%d %B %Y}.")
            return redirect("grading:standard")
    context = {
        "standard": in_force,
        "base": base,
        "legal": [row for row in base.content["requirements"] if row["kind"] == "legal"],
        "own": [
            (row, _number_inputs(request, row, found), _is_required(request, row, base))
            for row, found in offered_requirements(base)
        ],
        "limits": policy_limits(base.content),
        "later": Standard.objects.filter(rule_set=school.rule_set, valid_from__gt=now.date()).order_by("valid_from"),
        "earlier": Standard.objects.filter(rule_set=school.rule_set, valid_from__lt=in_force.valid_from),
        "can_decide": can_decide(request.user),
        # Tomorrow at the earliest: a past verdict stays under the standard it was given by.
        "valid_from": request.POST.get("valid_from") or str(now.date() + timedelta(days=1)),
        "refused": refused,
    }
    return render(request, "grading/standard.html", context, status=422 if refused else 200)


def _publish(request: HttpRequest, base: Standard, now: Any) -> Standard:
    values: dict[str, dict[str, int]] = {}
    for row, numbers in offered_requirements(base):
        for name, _ in numbers:
            typed = request.POST.get(f"{row['key']}-{name}", "").strip()
            # isdigit() alone accepts superscripts, which int() refuses.
            if not (typed.isascii() and typed.isdigit()) or len(typed) > 4:
                raise Refusal(f"{row['title']}: “{typed[:20]}” is not a whole number.")
            values.setdefault(row["key"], {})[name] = int(typed)
    required = {row["key"] for row, _ in offered_requirements(base) if _is_required(request, row, base)}
    try:
        valid_from = date.fromisoformat(request.POST.get("valid_from", ""))
    except ValueError:
        raise Refusal("Choose the day from which it is in force.") from None
    if not is_plausible_date(valid_from):
        raise Refusal(f"{valid_from:%Y-%m-%d} is far from today: check the year from which it is in force.")
    return publish_standard(base=base, values=values, required=required, valid_from=valid_from, by=request.user, at=now)


def _is_required(request: HttpRequest, row: dict[str, Any], base: Standard) -> bool:
    if request.method == "GET":
        return any(asked["key"] == row["key"] for asked in base.content["requirements"])
    return request.POST.get(f"{row['key']}-asked") == "on"


def _number_inputs(request: HttpRequest, row: dict[str, Any], numbers: list[tuple[str, int]]) -> list[dict[str, Any]]:
    return [
        {
            "name": f"{row['key']}-{name}",
            "label": VALUE_LABELS[name],
            "value": request.POST.get(f"{row['key']}-{name}", value),
            "bounds": VALUE_BOUNDS[name],
        }
        for name, value in numbers
    ]
