"""Show how long records are retained, erase them by two people, and hand out what is stored about a person."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions.erasure import confirm_erasure as confirm
from grading.actions.erasure import pending_erasure
from grading.actions.erasure import propose_erasure as propose
from grading.actions.erasure import withdraw_erasure as withdraw
from grading.actions.flight_tracks import set_track_term as set_months
from grading.exchange.hand_out_personal_data import hand_out_personal_data
from grading.exchange.personal_data import collect_personal_data as collect_personal_data
from grading.pages.retention import erasure_context, retention_context
from lessons.access import get_readable_enrolment
from lessons.models import Enrolment
from school.current import school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide, can_erase, can_manage_records

NO_PENDING_PROPOSAL = "The proposal has been withdrawn. Nothing was erased."


@require_GET
def retention(request: HttpRequest) -> HttpResponse:
    """List whose record may be erased from which day, the proposals that wait, and what was erased."""
    _require_erasure_right(request)
    return _render_retention(request)


@require_POST
def set_track_term(request: HttpRequest) -> HttpResponse:
    """Set for how many months the positions of flight tracks are kept."""
    _require_erasure_right(request)
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor sets how long positions are kept.")
    typed = request.POST.get("months", "").strip()
    try:
        # Two digits at most: `int` refuses very long ones.
        if not (typed.isascii() and typed.isdigit() and len(typed) < 3):
            raise Refusal("Write the months as a whole number.")
        set_months(months=int(typed), by=request.user, at=timezone.now())
    except Refusal as refusal:
        return _render_retention(request, refused=str(refusal), typed=typed)
    messages.info(request, f"Positions of flight tracks are kept for {int(typed)} months after the lesson.")
    return redirect("grading:retention")


@require_GET
def erasure(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show how long one record is retained, and what an erasure removes and leaves."""
    return _render_erasure(request, get_readable_enrolment(_require_erasure_right(request), uid))


@require_POST
def propose_erasure(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    person = _require_erasure_right(request)
    enrolment, reason = get_readable_enrolment(person, uid), request.POST.get("reason", "")
    try:
        propose(enrolment=enrolment, reason=reason, by=person, at=timezone.now())
    except Refusal as refusal:
        return _render_erasure(request, enrolment, refused=str(refusal), reason=reason)
    messages.info(
        request, "The erasure is proposed. Another person must confirm it here; until then nothing is erased."
    )
    return redirect("grading:erasure", enrolment.uid)


@require_POST
def withdraw_erasure(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    person = _require_erasure_right(request)
    enrolment = get_readable_enrolment(person, uid)
    proposed = pending_erasure(enrolment)
    if proposed is None:
        return _render_erasure(request, enrolment, refused=NO_PENDING_PROPOSAL)
    try:
        withdraw(erasure=proposed, by=person, at=timezone.now())
    except Refusal as refusal:
        return _render_erasure(request, enrolment, refused=str(refusal))
    messages.info(request, f"The proposal is withdrawn: the record of {enrolment.student} stays.")
    return redirect("grading:erasure", enrolment.uid)


@require_POST
def confirm_erasure(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Erase the record on the second person's confirmation, with their password."""
    person = _require_erasure_right(request)
    enrolment = get_readable_enrolment(person, uid)
    proposed = pending_erasure(enrolment)
    if proposed is None:
        return _render_erasure(request, enrolment, refused=NO_PENDING_PROPOSAL)
    try:
        sealed = confirm(erasure=proposed, secret=request.POST.get("secret", ""), by=person, at=timezone.now())
    except Refusal as refusal:
        return _render_erasure(request, enrolment, refused=str(refusal))
    messages.info(
        request, f"The record of {proposed.reference} is erased. Seal {sealed.number} names each seal it emptied."
    )
    return redirect("grading:retention")


@require_POST
def personal_data(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Send everything stored about a student to the administrator who answers their request."""
    if not can_manage_records(request.user):
        raise PermissionDenied("The administrator may download this, and each person their own data.")
    # A POST, because the journal records that somebody else's data was handed out.
    student = get_readable_enrolment(request.user, uid).student
    return _download_data(student, hand_out_personal_data(person=student, by=request.user, at=timezone.now()))


@require_GET
def own_personal_data(request: HttpRequest) -> HttpResponse:
    """Send everything stored about the person who is logged in."""
    return _download_data(request.user, collect_personal_data(request.user, timezone.now()))


def _render_retention(request: HttpRequest, refused: str = "", typed: str = "") -> HttpResponse:
    today, show, page = school_day(timezone.now()), request.GET.get("show", ""), request.GET.get("page", "1")
    context = retention_context(request.user, today, show, page) | {"refused": refused, "typed": typed}
    return render(request, "grading/retention.html", context, status=422 if refused else 200)


def _require_erasure_right(request: HttpRequest) -> Person:
    if not can_erase(request.user):
        raise PermissionDenied("Only the administrator and the chief instructor may see retention.")
    person: Person = request.user
    return person


def _render_erasure(request: HttpRequest, enrolment: Enrolment, refused: str = "", reason: str = "") -> HttpResponse:
    today = school_day(timezone.now())
    context = erasure_context(enrolment, request.user, today) | {"refused": refused, "reason": reason}
    return render(request, "grading/erasure.html", context, status=422 if refused else 200)


def _download_data(person: Person, data: dict) -> HttpResponse:
    return JsonResponse(
        data,
        json_dumps_params={"indent": 1, "ensure_ascii": False},
        headers={"Content-Disposition": content_disposition(f"personal-data-{person.pk}.json")},
    )
