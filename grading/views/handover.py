"""A student's record given out as one file, and one from another school looked at and taken in."""

import uuid as uuids
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.exchange import receiving
from grading.exchange.handover.form import BadRecord, schema
from grading.exchange.handover.preview import HandOver, candidates, hand_over_in, known_of
from grading.exchange.imports.forms import NEW, WhoseForm
from grading.models import PendingUpload, ReceivedRecord
from grading.pages.earlier import earlier_page
from grading.views.intake import keeper_of
from lessons.access import student_for_reading
from school.downloads import disposition
from school.errors import Refused
from school.permissions import can_decide, can_hand_over, can_see_all_students


@require_POST
def hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a student's whole record out as one zip."""
    student = student_for_reading(request.user, pk)
    if not can_hand_over(request.user, student):
        raise PermissionDenied("The records administrator, the chief instructor or the student gives a record out.")
    now = timezone.now()
    made = receiving.hand_over(student=student, on=now.date(), by=request.user, at=now)
    return HttpResponse(
        made.content,
        content_type="application/zip",
        headers={"Content-Disposition": disposition(made.name)},
    )


@require_GET
def hand_over_schema(request: HttpRequest) -> HttpResponse:
    """The JSON Schema of record.json."""
    return JsonResponse(schema(), json_dumps_params={"indent": 1})


@require_http_methods(["GET", "POST"])
def take_in_record(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """What another school's file holds, whose it may be, and a key to take it in."""
    keeper, now = keeper_of(request), timezone.now()
    upload = get_object_or_404(PendingUpload, uid=uid, kind=PendingUpload.Kind.HAND_OVER)
    try:
        handed = hand_over_in(bytes(upload.content))
    except BadRecord as bad:
        raise Http404(str(bad)) from bad
    found = candidates(handed.record)
    initial = {"whose": str(found[0][0].pk) if len(found) == 1 else None, "on": now.date()}
    form = WhoseForm(request.POST or None, found=found, record=handed.record, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            batch = receiving.take_in_hand_over(upload=upload, **_chosen(form), by=keeper, at=now)
        except Refused as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{batch} are taken in. What of them counts, the chief instructor decides.")
            return redirect("grading:earlier_training", batch.student_id)
    context = {"upload": upload, "form": form, **_told(handed)}
    return render(request, "grading/take_in_record.html", context, status=422 if form.errors else 200)


def _chosen(form: WhoseForm) -> dict[str, Any]:
    data = form.cleaned_data
    new = receiving.NewStudent(data["reference"], data["username"]) if data["whose"] == NEW else None
    enrolling = receiving.Enrolling(**form.enrolling) if form.enrolling else None
    return {"student": form.people.get(data["whose"]), "new": new, "enrolling": enrolling}


def _told(handed: HandOver) -> dict[str, Any]:
    known = known_of(handed)
    return {
        "handed": handed,
        "record": handed.record,
        "known": known,
        "new": len(known.new(handed)),
        "here": known.received | known.own,
        "lessons": handed.standing,
    }


@require_GET
def earlier_training(request: HttpRequest, pk: int) -> HttpResponse:
    """What a student brought along: lessons, the records with where each came from, and what of it counts."""
    student = student_for_reading(request.user, pk)
    context = earlier_page(student, timezone.localdate()) | {
        "may_hand_over": can_hand_over(request.user, student),
        "deciding": can_decide(request.user),
        "staff": can_see_all_students(request.user),
    }
    return render(request, "grading/earlier_training.html", context)


@require_GET
def received_record(request: HttpRequest, pk: int) -> HttpResponse:
    """One received record as its exact text: its SHA-256 is its fingerprint."""
    found = ReceivedRecord.objects.select_related("batch").filter(pk=pk).first()
    if found is None:
        raise Http404("There is no such record for you.")
    student_for_reading(request.user, found.batch.student_id)
    return HttpResponse(
        found.canonical.encode(),
        content_type="application/json",
        headers={"Content-Disposition": disposition(f"{found.fingerprint[:16]}.json", inline=True)},
    )
