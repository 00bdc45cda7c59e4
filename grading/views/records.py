"""Show the administrator's pages: enrolment, papers, progress sheets, the chain."""

import uuid as uuids
from datetime import datetime

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.evidence.audit.check import run_audit
from grading.evidence.chain import head
from grading.forms.training import EnrolmentForms, PaperForm, PrintSheetForm, ReassignForm
from grading.models import RecordCheck, Sheet
from grading.operations.reassigning_mail import tell_of_reassigning
from grading.pages.earlier_training import credited_rows, hours_rows
from grading.pages.findings import finding_row, split_settled
from grading.pages.records import RecordsFilter, records_context
from grading.pages.retention import retention_for
from grading.reading.inspection_facts import collect_findings
from grading.reading.settled_findings import read_settled
from lessons import actions as lesson_actions
from lessons.access import get_readable_enrolment
from lessons.models import DiscardedLesson, Enrolment, Lesson
from school import actions as school_actions
from school.accounts.actions import invite
from school.current import school_day
from school.errors import Refusal
from school.models import Paper, Person
from school.permissions import can_manage_records, can_reassign, can_see_records, can_settle_findings
from school.views.attachments import PICTURES


def _require_records_admin(request: HttpRequest) -> Person:
    if not can_manage_records(request.user):
        raise PermissionDenied("Only the administrator may open the records.")
    person: Person = request.user
    return person


@require_GET
def records(request: HttpRequest) -> HttpResponse:
    """List the students with their unsigned lessons, and the result of the last check of the records."""
    _require_records_admin(request)
    context = {
        **records_context(RecordsFilter.of(request.GET), school_day(timezone.now())),
        "head": head(),
        "check": RecordCheck.objects.select_related("by").order_by("-pk").first(),
    }
    return render(request, "grading/records.html", context)


@require_POST
def check_records(request: HttpRequest) -> HttpResponse:
    """Check every sealed record now."""
    keeper = _require_records_admin(request)
    run_audit(by=keeper, at=timezone.now())
    return redirect("grading:records")


@require_http_methods(["GET", "POST"])
def enrol_student(request: HttpRequest) -> HttpResponse:
    """Add a student with the documents at hand, enrol them, and invite them where an address is given."""
    keeper, now = _require_records_admin(request), timezone.now()
    posted = request.method == "POST"
    sent = (request.POST, request.FILES) if posted else (None, None)
    forms = EnrolmentForms(*sent, initial={"on": school_day(now)})
    if posted and forms.is_valid():
        typed, papers = forms.student.cleaned_data, forms.given_papers
        try:
            enrolment = lesson_actions.enrol_new_student(**typed, papers=papers, by=keeper, at=now)
        except Refusal as refusal:
            forms.student.add_error(None, str(refusal))
        else:
            student, missing = enrolment.student, "" if len(papers) == len(forms.papers) else " Now add the documents."
            messages.info(request, f"{student} is enrolled.{missing}{_invited(student, keeper, now)}")
            return redirect("grading:student_record", enrolment.uid)
    context = {"form": forms.student, "papers": forms.papers}
    return render(request, "grading/enrol_student.html", context, status=422 if posted else 200)


def _invited(student: Person, keeper: Person, at: datetime) -> str:
    """Invite a new student who has an address; return a sentence about it, with a blank before it.

    The enrolment stays without the e-mail: a mail server that does not answer is no reason to type it again.
    """
    if not student.email:
        return ""
    try:
        invite(person=student, by=keeper, at=at)
    except Refusal:
        return " The invitation could not be sent: send it again on the page of the person."
    return f" An invitation was sent to {student.email}."


@require_GET
def student_record(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show one student's documents, findings, lessons and printed sheets; the administrator enters documents here."""
    person: Person = request.user
    if not can_see_records(person):
        raise PermissionDenied("The record of a student is for the administrator and the chief instructor.")
    return render(request, "grading/student_record.html", _record_context(get_readable_enrolment(person, uid), person))


@require_http_methods(["GET", "POST"])
def change_instructor(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Assign a student to another instructor."""
    if not can_reassign(request.user):
        raise PermissionDenied("The chief instructor or the administrator reassigns students.")
    person: Person = request.user
    enrolment = get_readable_enrolment(person, uid)
    form = ReassignForm(request.POST if request.method == "POST" else None, enrolment=enrolment)
    if form.is_valid():
        new, now = form.cleaned_data["instructor"], timezone.now()
        try:
            moved = lesson_actions.change_instructor(enrolment=enrolment, instructor=new, by=person, at=now)
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.info(request, f"{new} is the assigned instructor of {enrolment.student} from now on.")
            if untold := tell_of_reassigning([(moved, enrolment.instructor)], person):
                messages.warning(request, untold)
            page = "grading:student_record" if can_manage_records(person) else "grading:readiness"
            return redirect(page, enrolment.uid)
    context = {"enrolment": enrolment, "form": form}
    return render(request, "grading/change_instructor.html", context, status=422 if form.errors else 200)


@require_POST
def add_paper(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    keeper = _require_records_admin(request)
    enrolment = get_readable_enrolment(keeper, uid)
    form = PaperForm(request.POST, request.FILES)
    if form.is_valid():
        now = timezone.now()
        try:
            added = school_actions.record_paper(person=enrolment.student, **form.cleaned_data, by=keeper, at=now)
        except Refusal as refusal:
            form.add_error("issued", str(refusal))
        else:
            messages.info(request, f"Added: {added.get_kind_display()} of {enrolment.student}.")
            return redirect("grading:student_record", enrolment.uid)
    context = {**_record_context(enrolment, keeper), "paper_form": form}
    return render(request, "grading/student_record.html", context, status=422)


@require_POST
def void_paper(request: HttpRequest, pk: int) -> HttpResponse:
    keeper = _require_records_admin(request)
    paper = get_object_or_404(Paper, pk=pk)
    # A document belongs to a person and this page to an enrolment: the latest one is shown.
    enrolment = Enrolment.objects.for_pages().filter(student=paper.person_id).order_by("-pk").first()
    if enrolment is None:
        raise Http404("No student holds this document.")
    reason, now = request.POST.get("reason", ""), timezone.now()
    try:
        school_actions.void_paper(paper=paper, reason=reason, by=keeper, at=now)
    except Refusal as refusal:
        context = {**_record_context(enrolment, keeper), "void_error": str(refusal)}
        context |= {"voiding": paper.pk, "void_reason": reason}
        return render(request, "grading/student_record.html", context, status=422)
    messages.info(request, f"The entry is void: {paper.get_kind_display()} of {enrolment.student}. It stays readable.")
    return redirect("grading:student_record", enrolment.uid)


def _record_context(enrolment: Enrolment, keeper: Person) -> dict[str, object]:
    now = timezone.now()
    on, found = school_day(now), collect_findings([enrolment], now)
    settled = read_settled(found)
    return {
        "enrolment": enrolment,
        "papers": Paper.objects.filter(person=enrolment.student)
        .select_related("recorded_by", "voided_by")
        .annotate(pictures=PICTURES)
        .order_by("kind", "-issued"),
        "lessons": Lesson.objects.filter(enrolment=enrolment).for_pages().newest_first(),
        "discarded": DiscardedLesson.objects.filter(enrolment=enrolment)
        .select_related("discarded_by")
        .defer("entries")
        .order_by("-on", "-number"),
        "sheets": Sheet.objects.filter(enrolment=enrolment)
        # A list needs neither the file of a sheet nor its content, and both are large.
        .defer("pdf", "content")
        .select_related("printed_by")
        .order_by("-number"),
        "hours": hours_rows(enrolment, on),
        "credited": credited_rows(enrolment, on),
        "paper_form": PaperForm(),
        "instructor_form": ReassignForm(enrolment=enrolment),
        "sheet_form": PrintSheetForm(),
        "keeping": retention_for(enrolment),
        # Derived at each look: a corrected record has no finding left that somebody would have to remove.
        # Those that somebody marked as done come last.
        "findings": [
            finding_row(finding, keeper, enrolment, settled)
            for rows in split_settled(found, settled)
            for finding in rows
        ],
        "may_settle": can_settle_findings(keeper),
        "keeps_records": can_manage_records(keeper),
    }
