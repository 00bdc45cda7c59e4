"""Record what an instructor signs beside lessons: written tests and endorsements."""

import uuid as uuids
from collections.abc import Callable, Sequence
from datetime import datetime

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from grading.actions import endorsements, training, withdrawals
from grading.forms.training import (
    ComplexEndorsementForm,
    EndorsementForm,
    HighPerformanceEndorsementForm,
    NearbyEndorsementForm,
    NightEndorsementForm,
    SoloEndorsementForm,
    TailwheelEndorsementForm,
)
from grading.models import Release
from grading.reading import verdict_cache
from grading.rules.readiness.stored_form import verdict_from_plain
from grading.views.students import readiness_page_context, tell_of_change
from lessons.access import get_readable_enrolment
from lessons.forms import WrittenTestForm
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Unit
from school.current import school_day
from school.errors import Refusal
from school.permissions import can_see_all_students, can_teach

FOR_SOLO = (Endorsement.Kind.PRE_SOLO_TRAINING, Endorsement.Kind.SOLO_AT_NIGHT, Endorsement.Kind.SOLO_NEARBY)
OPEN_NAMED = 5  # requirements in the confirmation; the page it leads to lists all of them


@require_http_methods(["GET", "POST"])
def written_test(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Record a written test of a student: of a unit, or the pre-solo knowledge test."""
    enrolment = _enrolment_to_teach(request, uid)
    now = timezone.now()
    units = Unit.objects.filter(stage__syllabus=enrolment.syllabus_id).select_related("stage")
    usual = {
        "title": "Pre-solo knowledge test",
        "topics": KnowledgeTest.Topic.values,
        "taken_on": school_day(now),
        "reviewed_on": school_day(now),
    }
    form = WrittenTestForm(request.POST or None, units=units.order_by("stage__number", "number"), initial=usual)
    if request.method == "POST" and form.is_valid():
        try:
            training.record_written_test(
                enrolment=enrolment,
                aircraft_type=enrolment.aircraft_type,
                **form.cleaned_data,
                given_by=request.user,
                by=request.user,
                at=now,
            )
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"The written test of {enrolment.student} is recorded.")
            return redirect("grading:readiness", enrolment.uid)
    return _render_form(request, "grading/written_test.html", enrolment, form)


@require_POST
def review_test(request: HttpRequest, uid: uuids.UUID, pk: int) -> HttpResponse:
    """Record that the wrong answers of a test were reviewed with the student today."""
    enrolment = _enrolment_to_teach(request, uid)
    test = get_object_or_404(KnowledgeTest, pk=pk, enrolment=enrolment)
    now = timezone.now()
    try:
        training.review_test(test=test, on=school_day(now), by=request.user, at=now)
    except Refusal as refusal:
        messages.error(request, str(refusal))
    else:
        messages.info(request, f"Recorded: wrong answers reviewed with {enrolment.student} today.")
    return redirect("grading:readiness", enrolment.uid)


@require_http_methods(["GET", "POST"])
def tailwheel_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for tailwheel aeroplanes."""
    return _endorse(
        request, uid, "grading/tailwheel_endorsement.html", TailwheelEndorsementForm, endorsements.endorse_for_tailwheel
    )


@require_http_methods(["GET", "POST"])
def complex_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for complex aeroplanes."""
    return _endorse(
        request, uid, "grading/complex_endorsement.html", ComplexEndorsementForm, endorsements.endorse_for_complex
    )


@require_http_methods(["GET", "POST"])
def high_performance_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for aeroplanes of more than 200 horsepower."""
    act = endorsements.endorse_for_high_performance
    return _endorse(request, uid, "grading/high_performance_endorsement.html", HighPerformanceEndorsementForm, act)


@require_http_methods(["GET", "POST"])
def solo_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for solo in the type, signed by the endorsing instructor before any release."""
    return _endorse(request, uid, "grading/solo_endorsement.html", SoloEndorsementForm, endorsements.endorse_for_solo)


@require_http_methods(["GET", "POST"])
def night_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for solo at night at an aerodrome."""
    return _endorse(
        request, uid, "grading/night_endorsement.html", NightEndorsementForm, endorsements.endorse_for_night
    )


@require_http_methods(["GET", "POST"])
def nearby_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Endorse a student for solo at another aerodrome within 25 NM."""
    return _endorse(
        request, uid, "grading/nearby_endorsement.html", NearbyEndorsementForm, endorsements.endorse_for_nearby
    )


@require_POST
def withdraw_endorsement(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Withdraw an endorsement, with a reason."""
    found = Endorsement.objects.select_related("enrolment__student", "given_by").filter(uid=uid).first()
    # One answer for what does not exist and what is not theirs: an address must disclose nothing.
    if found is None or not can_see_all_students(request.user):
        raise Http404("There is no such endorsement for you.")
    reason, now = request.POST.get("reason", ""), timezone.now()
    try:
        withdrawals.withdraw_endorsement(endorsement=found, reason=reason, by=request.user, at=now)
    except Refusal as refusal:
        enrolment = get_readable_enrolment(request.user, found.enrolment.uid)
        said = {"unendorse": found.pk, "unendorse_error": str(refusal), "unendorse_reason": reason}
        context = readiness_page_context(request, enrolment, **said)
        return render(request, "grading/readiness.html", context, status=422)
    messages.info(request, "The endorsement is withdrawn.")
    # The releases that rested on it ended with it, in the same act.
    ended = list(Release.objects.filter(enrolment=found.enrolment_id, withdrawn_at=now).order_by("pk"))
    if ended:
        messages.info(request, "The releases that rested on it ended with it: no solo until a new one.")
        tell_of_change(request, ended, now)
    return redirect("grading:readiness", found.enrolment.uid)


def _enrolment_to_teach(request: HttpRequest, uid: uuids.UUID) -> Enrolment:
    enrolment = get_readable_enrolment(request.user, uid)
    if not can_teach(request.user):
        raise PermissionDenied("Only an instructor may record this.")
    return enrolment


def _endorse(
    request: HttpRequest,
    uid: uuids.UUID,
    template: str,
    form_class: type[EndorsementForm],
    act: Callable[..., Endorsement],
) -> HttpResponse:
    """Show the form of an endorsement and sign it on a POST; the fields of the form are arguments of the action."""
    enrolment = _enrolment_to_teach(request, uid)
    now = timezone.now()
    form = form_class(request.POST or None, initial={"on": school_day(now)})
    if request.method == "POST" and form.is_valid():
        try:
            signed = act(enrolment=enrolment, **form.cleaned_data, by=request.user, at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"Signed: {signed.get_kind_display()}, {enrolment.student}.")
            if signed.kind in FOR_SOLO and (still_open := _open_requirements(enrolment, now)):
                messages.warning(request, _open_words(still_open))
            return redirect("grading:readiness", enrolment.uid)
    # Whoever endorses for solo reads first what the standard still asks for; the judgement is the instructor's.
    still_open = _open_requirements(enrolment, now) if issubclass(form_class, SoloEndorsementForm) else []
    return _render_form(request, template, enrolment, form, still_open=still_open)


def _open_requirements(enrolment: Enrolment, now: datetime) -> list[str]:
    """Return the sentences of the requirements that are not met today."""
    stored, _ = verdict_cache.get_or_derive_one(enrolment, school_day(now))
    return [outcome.sentence.rstrip(".") for outcome in verdict_from_plain(stored.content).unmet]


def _open_words(still_open: Sequence[str]) -> str:
    """Return 'Endorsed with 5 requirements open: ...; ...; and 3 more.'."""
    count = len(still_open)
    more = f"; and {count - OPEN_NAMED} more" if count > OPEN_NAMED else ""
    noun = "requirement" if count == 1 else "requirements"
    return f"Endorsed with {count} {noun} open: {'; '.join(still_open[:OPEN_NAMED])}{more}."


def _render_form(
    request: HttpRequest, template: str, enrolment: Enrolment, form: forms.Form, **more: object
) -> HttpResponse:
    context = {"enrolment": enrolment, "form": form, **more}
    return render(request, template, context, status=422 if form.errors else 200)
