"""What an instructor puts on record beside lessons: written tests and the tailwheel endorsement."""

import uuid as uuids

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from grading.actions import decisions
from grading.actions.signing import instructor_certificate, reauthenticate
from grading.forms import SoloEndorsementForm, TailwheelEndorsementForm
from lessons import actions
from lessons.access import enrolment_for_reading
from lessons.forms import WrittenTestForm
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Unit
from school.errors import Refused
from school.permissions import can_teach


@require_http_methods(["GET", "POST"])
def written_test(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Record a written test of a student: of a unit, or the pre-solo knowledge test."""
    enrolment = _taught(request, uid)
    now = timezone.now()
    units = Unit.objects.filter(stage__syllabus=enrolment.syllabus_id).select_related("stage")
    usual = {
        "title": "Pre-solo knowledge test",
        "topics": KnowledgeTest.Topic.values,
        "taken_on": now.date(),
        "reviewed_on": now.date(),
    }
    form = WrittenTestForm(request.POST or None, units=units.order_by("stage__number", "number"), initial=usual)
    if request.method == "POST" and form.is_valid():
        try:
            actions.record_knowledge_test(
                enrolment=enrolment,
                aircraft_type=enrolment.aircraft_type,
                **form.cleaned_data,
                given_by=request.user,
                by=request.user,
                at=now,
            )
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("grading:readiness", enrolment.uid)
    return _page(request, "grading/written_test.html", enrolment, form)


@require_POST
def review_test(request: HttpRequest, uid: uuids.UUID, pk: int) -> HttpResponse:
    """Record that the wrong answers of a test were reviewed with the student today."""
    enrolment = _taught(request, uid)
    test = get_object_or_404(KnowledgeTest, pk=pk, enrolment=enrolment)
    now = timezone.now()
    try:
        actions.review_test(test=test, on=now.date(), by=request.user, at=now)
    except Refused as refusal:
        messages.error(request, str(refusal))
    return redirect("grading:readiness", enrolment.uid)


@require_http_methods(["GET", "POST"])
def tailwheel_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for tailwheel aeroplanes."""
    enrolment = _taught(request, uid)
    now = timezone.now()
    form = TailwheelEndorsementForm(request.POST or None, initial={"on": now.date()})
    if request.method == "POST" and form.is_valid():
        try:
            certificate = instructor_certificate(request.user, form.cleaned_data["on"])
            reauthenticate(request.user, form.cleaned_data["secret"])
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            actions.endorse(
                enrolment=enrolment,
                kind=Endorsement.Kind.TAILWHEEL,
                paragraph="14 CFR 61.31(i)",
                aircraft_type=enrolment.aircraft_type,
                text=form.cleaned_data["text"],
                on=form.cleaned_data["on"],
                certificate_number=certificate.number,
                by=request.user,
                at=now,
            )
            return redirect("grading:readiness", enrolment.uid)
    return _page(request, "grading/tailwheel_endorsement.html", enrolment, form)


@require_http_methods(["GET", "POST"])
def solo_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for solo in the type: the endorsing instructor's own signature, before any release."""
    enrolment = _taught(request, uid)
    now = timezone.now()
    form = SoloEndorsementForm(request.POST or None, initial={"on": now.date()})
    if request.method == "POST" and form.is_valid():
        try:
            decisions.endorse_for_solo(enrolment=enrolment, **form.cleaned_data, by=request.user, at=now)
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("grading:readiness", enrolment.uid)
    return _page(request, "grading/solo_endorsement.html", enrolment, form)


def _taught(request: HttpRequest, uid: uuids.UUID) -> Enrolment:
    enrolment = enrolment_for_reading(request.user, uid)
    if not can_teach(request.user):
        raise PermissionDenied("Only an instructor puts this on record.")
    return enrolment


def _page(request: HttpRequest, template: str, enrolment: Enrolment, form: forms.Form) -> HttpResponse:
    context = {"enrolment": enrolment, "form": form}
    return render(request, template, context, status=422 if form.errors else 200)
