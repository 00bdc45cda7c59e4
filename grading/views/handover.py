"""Hand a student's record over as one file, and import a record that another school handed over."""

import uuid as uuids
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.exchange import receiving
from grading.exchange.handover.preview import HandOverFile, find_known_records, open_hand_over, student_candidates
from grading.exchange.handover.record_format import BadRecord, record_schema
from grading.exchange.imports.import_forms import NEW_PERSON, RecordOwnerForm
from grading.models import PendingUpload, ReceivedRecord
from grading.pages.earlier_training import earlier_training_context
from grading.views.imports import require_records_admin
from lessons.access import get_readable_student
from school.current import school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import SigningCertificate
from school.permissions import can_decide, can_see_all_students, can_transfer_record


@require_POST
def hand_over_record(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a student's whole record as one zip."""
    student = get_readable_student(request.user, pk)
    if not can_transfer_record(request.user, student):
        raise PermissionDenied("Only the administrator, the chief instructor or the student may transfer a record.")
    # A POST, because the journal records each copy that leaves: a link fetched ahead must not write that.
    now = timezone.now()
    made = receiving.hand_over_record(student=student, on=school_day(now), by=request.user, at=now)
    return HttpResponse(
        made.content,
        content_type="application/zip",
        headers={"Content-Disposition": content_disposition(made.name)},
    )


@require_GET
def handover_schema(request: HttpRequest) -> HttpResponse:
    """Send the JSON Schema of record.json."""
    return JsonResponse(record_schema(), json_dumps_params={"indent": 1})


@require_http_methods(["GET", "POST"])
def record_import(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what another school's file contains and whose it may be, and import it on a POST."""
    keeper, now = require_records_admin(request), timezone.now()
    upload = get_object_or_404(PendingUpload, uid=uid, kind=PendingUpload.Kind.HAND_OVER)
    try:
        handover = open_hand_over(bytes(upload.content))
    except BadRecord as bad:
        # Such a file is refused at its upload already.
        raise Http404(str(bad)) from bad
    candidates = student_candidates(handover.record)
    # Proposed only where one person fits: what is imported is sealed under its student and is final.
    initial = {"whose": str(candidates[0][0].pk) if len(candidates) == 1 else None, "on": school_day(now)}
    form = RecordOwnerForm(request.POST or None, found=candidates, record=handover.record, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            batch = receiving.import_handover(upload=upload, **_student_choice(form), by=keeper, at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{batch} have been imported. The chief instructor decides what counts.")
            return redirect("grading:earlier_training", batch.student_id)
    context = {"upload": upload, "form": form, **_preview_context(handover)}
    return render(request, "grading/record_import.html", context, status=422 if form.errors else 200)


def _student_choice(form: RecordOwnerForm) -> dict[str, Any]:
    data = form.cleaned_data
    new = receiving.NewStudent(data["reference"], data["username"]) if data["whose"] == NEW_PERSON else None
    new_enrolment = receiving.NewEnrolment(**form.new_enrolment) if form.new_enrolment else None
    return {"student": form.people.get(data["whose"]), "new": new, "new_enrolment": new_enrolment}


def _preview_context(handover: HandOverFile) -> dict[str, Any]:
    known = find_known_records(handover)
    return {
        "handover": handover,
        "record": handover.record,
        "known": known,
        "new": len(known.new(handover)),
        "here": known.received | known.own,
        "lessons": handover.standing,
    }


@require_GET
def earlier_training(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a student's earlier training: lessons, each record with its origin, and what of it counts."""
    student = get_readable_student(request.user, pk)
    context = earlier_training_context(student, school_day(timezone.now())) | {
        "may_hand_over": can_transfer_record(request.user, student),
        "can_decide": can_decide(request.user),
        "staff": can_see_all_students(request.user),
        "certificate": SigningCertificate.objects.newest_first().first(),
    }
    return render(request, "grading/earlier_training.html", context)


@require_GET
def received_record(request: HttpRequest, pk: int) -> HttpResponse:
    """Send one received record as its exact text, whose SHA-256 is its fingerprint."""
    received = ReceivedRecord.objects.select_related("batch").filter(pk=pk).first()
    # Not found, as for a record of another student: keys are counted up and can be guessed.
    if received is None:
        raise Http404("There is no such record for you.")
    get_readable_student(request.user, received.batch.student_id)
    return HttpResponse(
        received.canonical.encode(),
        content_type="application/json",
        headers={"Content-Disposition": content_disposition(f"{received.fingerprint[:16]}.json", inline=True)},
    )
