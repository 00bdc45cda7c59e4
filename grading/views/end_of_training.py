"""Record the end of a student's training (administrator or chief instructor) and certify it (chief instructor)."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import training
from grading.forms.training import EndOfTrainingForm
from lessons.access import get_readable_enrolment
from lessons.models import Enrolment
from school.errors import Refusal
from school.permissions import can_decide, can_see_all_students


@require_GET
def end_of_training(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show when and how the training ended, and the chief instructor's certification."""
    return render(request, "grading/end_of_training.html", _end_context(request, _enrolment_for_staff(request, uid)))


@require_POST
def end_training(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Record the end of the training, which is final."""
    enrolment = _enrolment_for_staff(request, uid)
    if not training.can_end_training(request.user):
        raise PermissionDenied("Only the administrator or the chief instructor may record the end of training.")
    form = EndOfTrainingForm(request.POST)
    if form.is_valid():
        try:
            training.end_training(enrolment=enrolment, **form.cleaned_data, by=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"The end of the training of {enrolment.student} is recorded.")
            return redirect("grading:end_of_training", enrolment.uid)
    context = _end_context(request, enrolment) | {"form": form}
    return render(request, "grading/end_of_training.html", context, status=422)


@require_POST
def certify_end(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Let the chief instructor sign the record of a training that has ended."""
    enrolment = _enrolment_for_staff(request, uid)
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may certify the record of a student.")
    secret = request.POST.get("secret", "")
    try:
        training.certify_end(enrolment=enrolment, secret=secret, by=request.user, at=timezone.now())
    except Refusal as refusal:
        context = _end_context(request, enrolment) | {"certify_error": str(refusal)}
        return render(request, "grading/end_of_training.html", context, status=422)
    messages.info(request, f"Signed: you certify the record of {enrolment.student}.")
    return redirect("grading:end_of_training", enrolment.uid)


def _enrolment_for_staff(request: HttpRequest, uid: uuids.UUID) -> Enrolment:
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_see_all_students(request.user):
        raise PermissionDenied("Your progress is on your own page.")
    return enrolment


def _end_context(request: HttpRequest, enrolment: Enrolment) -> dict[str, object]:
    ended = enrolment.ended_on is not None
    certification = training.find_certification(enrolment)
    return {
        "enrolment": enrolment,
        "certification": certification,
        "meaning": training.END_MEANING,
        "signed": enrolment.lessons.signed().count(),
        "form": EndOfTrainingForm() if not ended and training.can_end_training(request.user) else None,
        "may_certify": ended and certification is None and can_decide(request.user),
        "keeper": request.user.is_records_admin,
    }
