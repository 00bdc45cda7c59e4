"""Show the standard in force to the staff; the chief instructor sets the school's thresholds in the next one."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions.standard_draft import draft_content, draft_spec
from grading.actions.standards import policy_limits, publish_standard
from grading.forms.standard import StandardForm
from grading.models import Standard
from grading.pages.standard import FROM_TRACKS_HELP, alarm_words, build_lets_through, headline, rule_words, sub_headline
from grading.reading.lesson_length import usual_lesson_length
from grading.reading.standard_comparison import StandardComparison, compare_standards
from grading.rules.operating.characteristic import CIRCUITS
from grading.rules.operating.together import STUDENTS
from grading.rules.readiness import StandardSpec
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.success_rules import rule_of
from school.current import get_school, school_day
from school.errors import Refusal
from school.formats import write_day
from school.permissions import can_decide, can_see_all_students


@require_http_methods(["GET", "POST"])
def standard(request: HttpRequest) -> HttpResponse:
    """Show every requirement with its source, what the rules let through, and the form for the next standard.

    The form looks (`act` look), compares today's verdicts (compare, compare-300 for those after 300) or publishes.
    """
    if not can_see_all_students(request.user):
        raise PermissionDenied("Your own page shows your requirements.")
    now = timezone.now()
    in_force, base = _standards(now)
    if request.method == "GET":
        return render(request, "grading/standard.html", _page_context(request, in_force, StandardForm(base), now))
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may set the standard.")
    form, act = StandardForm(base, request.POST), request.POST.get("act", "publish")
    if act == "publish":
        return _publish(request, in_force, form, now)
    context = _page_context(request, in_force, form, now)
    if act.startswith("compare") and "draft" in context:
        context["comparison"] = _compare(in_force, context["draft_spec"], act, now)
    if not request.htmx:
        return render(request, "grading/standard.html", context)
    # A change of one field replaces what is computed only: the inputs, with the focus in them, stay.
    return render(request, "grading/_standard_computed.html", context | {"oob": True})


def _standards(now: datetime) -> tuple[Standard, Standard]:
    """Return the standard in force, and the last one published, in force or not yet."""
    rule_set = get_school().rule_set
    in_force = Standard.objects.in_force(rule_set=rule_set, on=school_day(now)).get()
    # Built on an older one, the next would lose the changes of the last.
    return in_force, Standard.objects.filter(rule_set=rule_set).order_by("-valid_from").first() or in_force


def _publish(request: HttpRequest, in_force: Standard, form: StandardForm, now: datetime) -> HttpResponse:
    try:
        draft, valid_from = form.draft(), form.valid_from()
        published = publish_standard(
            base=form.base,
            values=draft.values,
            required=set(draft.required),
            forms=draft.forms,
            valid_from=valid_from,
            reason=request.POST.get("reason", ""),
            by=request.user,
            at=now,
        )
    except Refusal as refusal:
        context = _page_context(request, in_force, form, now) | {"refused": str(refusal)}
        return render(request, "grading/standard.html", context, status=422)
    messages.info(request, f"The standard {published.key} is in force from {write_day(published.valid_from)}.")
    return redirect("grading:standard")


def _compare(in_force: Standard, draft: StandardSpec, act: str, now: datetime) -> StandardComparison:
    skip = act.removeprefix("compare-")
    return compare_standards(
        standard_from_json(in_force.content),
        draft,
        school_day(now),
        int(skip) if skip.isascii() and skip.isdigit() else 0,
    )


def _page_context(request: HttpRequest, in_force: Standard, form: StandardForm, now: datetime) -> dict[str, Any]:
    length = usual_lesson_length(school_day(now))
    spec, base = standard_from_json(in_force.content), form.base
    lets_through = build_lets_through(spec, length)
    rules = {row.key: rule_words(rule) for row in spec.requirements if (rule := rule_of(row)) is not None}
    later = Standard.objects.filter(rule_set=base.rule_set, valid_from__gt=school_day(now)).order_by("valid_from")
    context: dict[str, Any] = {
        "standard": in_force,
        "base": base,
        "form": form,
        "parts": [(inputs, rules.get(inputs.row["key"], "not required")) for inputs in form.parts],
        "legal": [row for row in base.content["requirements"] if row["kind"] == "legal"],
        "limits": policy_limits(base.content),
        "from_tracks_help": FROM_TRACKS_HELP,
        "alarm_words": alarm_words(standard_from_json(base.content)),
        "later": later,
        "earlier": Standard.objects.filter(rule_set=base.rule_set, valid_from__lt=in_force.valid_from),
        "can_decide": can_decide(request.user),
        # Tomorrow at the earliest: a past verdict stays under the standard it was given by.
        "reason": request.POST.get("reason", ""),
        "valid_from": request.POST.get("valid_from") or str(school_day(now) + timedelta(days=1)),
        "lets_through": lets_through,
        "length": length,
        "circuits": CIRCUITS,
        "students": f"{STUDENTS:,}",
        "headline": headline(lets_through),
        "sub_headline": sub_headline(length, lets_through),
    }
    if not context["can_decide"]:
        return context
    try:
        content = draft_content(base, form.draft(), school_day(now) + timedelta(days=1))
        draft_spec_ = draft_spec(content)
    except Refusal as refusal:
        return context | {"draft_refused": str(refusal)}
    if content["requirements"] == in_force.content["requirements"]:
        return context
    draft = build_lets_through(draft_spec_, length)
    return context | {
        "draft": draft,
        "draft_spec": draft_spec_,
        "headline": headline(lets_through, draft),
        "sub_headline": sub_headline(length, lets_through, draft),
    }
