"""Decide what of a student's earlier training counts: pages of the chief instructor."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions.credit import decide_credit
from grading.actions.earlier_evidence import decide_earlier_evidence
from grading.exchange.imports.import_forms import CreditForm, EarlierEvidenceForm
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.earlier_evidence import brought_lessons, evidence_decisions
from lessons.access import get_readable_enrolment
from lessons.earlier_training import credit_decisions
from lessons.models import AMOUNT_FIELDS, EarlierTraining
from school.current import end_of_school_day, school_day
from school.errors import Refusal
from school.permissions import can_decide


@require_http_methods(["GET", "POST"])
def training_credit(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show and decide the units that count as complete and the hours carried forward, each for a written reason."""
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may decide what counts of earlier training.")
    now = timezone.now()
    course = courses_by_enrolment([enrolment], school_day(now))[enrolment.pk]
    # The form begins with the decision in force, because a new one replaces it whole.
    last = credit_decisions([enrolment], school_day(now)).get(enrolment.pk)
    credited = {row.unit.pk: row.credited for row in course.unit_progress if row.credited}
    form = CreditForm(request.POST or None, units=course.units, last=last, credited=credited)
    if request.method == "POST" and form.is_valid():
        try:
            decide_credit(
                enrolment=enrolment,
                units=form.chosen(),
                counted=form.counted(),
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=now,
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"Decided for {enrolment.student}, and sealed. A later decision may replace it.")
            return redirect("grading:earlier_training", enrolment.student_id)
    earlier = EarlierTraining.objects.filter(student=enrolment.student).current()
    totals = earlier.totals()
    context = {
        "enrolment": enrolment,
        "form": form,
        "units": [(row, form[f"unit-{row.unit.pk}"]) for row in course.unit_progress],
        "hours": [(form[name], totals[name], name.endswith("_minutes")) for name in AMOUNT_FIELDS],
        "earlier": list(earlier.order_by("on", "pk")),
        "last": last,
    }
    return render(request, "grading/training_credit.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def earlier_evidence(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show the graded earlier lessons and decide how many of them count as evidence, for a written reason."""
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may decide what counts as evidence.")
    now = timezone.now()
    last = evidence_decisions([enrolment], end_of_school_day(school_day(now))).get(enrolment.pk)
    lessons = brought_lessons(enrolment)
    countable = [row for row in lessons if not row.obstacle]
    form = EarlierEvidenceForm(request.POST or None, most=len(countable), last=last)
    if request.method == "POST" and form.is_valid():
        count, reason = form.cleaned_data["count"], form.cleaned_data["reason"]
        try:
            decide_earlier_evidence(enrolment=enrolment, count=count, reason=reason, by=request.user, at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"Decided for {enrolment.student}, and sealed. A later decision may replace it.")
            return redirect("grading:earlier_training", enrolment.student_id)
    context = {
        "enrolment": enrolment,
        "form": form,
        "last": last,
        "countable": countable,
        "others": [row for row in lessons if row.obstacle],
    }
    return render(request, "grading/earlier_evidence.html", context, status=422 if form.errors else 200)
