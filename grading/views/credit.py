"""What of a student's earlier training counts: decided by the chief instructor."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.actions.credit import decide_credit
from grading.exchange.imports.import_forms import CreditForm
from grading.reading.course_progress import courses_by_enrolment
from lessons.access import enrolment_for_reading
from lessons.earlier import decisions_on
from lessons.models import COUNTED, EarlierTraining
from school.errors import Refused
from school.permissions import can_decide


@require_http_methods(["GET", "POST"])
def training_credit(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Units that count as complete and hours carried forward, each for a written reason."""
    enrolment = enrolment_for_reading(request.user, uid)
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor decides what counts of earlier training.")
    now = timezone.now()
    course = courses_by_enrolment([enrolment], now.date())[enrolment.pk]
    last = decisions_on([enrolment], now.date()).get(enrolment.pk)
    credited = {row.unit.pk: row.credited for row in course.standings if row.credited}
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
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"Decided for {enrolment.student}, and sealed. A later decision may replace it.")
            return redirect("grading:earlier_training", enrolment.student_id)
    earlier = EarlierTraining.objects.filter(student=enrolment.student).standing()
    totals = earlier.totals()
    context = {
        "enrolment": enrolment,
        "form": form,
        "units": [(row, form[f"unit-{row.unit.pk}"]) for row in course.standings],
        "hours": [(form[name], totals[name], name.endswith("_minutes")) for name in COUNTED],
        "earlier": list(earlier.order_by("on", "pk")),
        "last": last,
    }
    return render(request, "grading/training_credit.html", context, status=422 if form.errors else 200)
