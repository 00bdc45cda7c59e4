"""Print sheets, send the stored files, and check a sheet for anybody who holds one."""

import uuid as uuids

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.actions import sheets
from grading.forms.training import PrintSheetForm
from grading.models import Sheet
from grading.sheets.verification import find_by_fingerprint, verify
from lessons.access import get_readable_enrolment
from school.current import get_school, school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.file_reader import PATIENCE_SECONDS, strangers_file
from school.models import Person, Role, SigningCertificate
from school.permissions import can_decide, can_manage_records, can_see_all_students
from school.rate_limits import is_over_limit

# Anybody may send a file to be checked, and it is read into memory whole.
MAX_FILE_BYTES = 20_000_000


@require_POST
def print_sheet(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Print and store a sheet as of today, and open it. A student may print their own complete record."""
    person, now = request.user, timezone.now()
    today = school_day(now)
    enrolment = get_readable_enrolment(person, uid)
    form = PrintSheetForm(request.POST)
    keeps = can_manage_records(person) or can_decide(person)
    own = enrolment.student_id == person.pk and request.POST.get("kind") == Sheet.Kind.COMPLETE
    if not (keeps or own):
        raise PermissionDenied("Only the administrator or the chief instructor may print sheets.")
    refused = ""
    if form.is_valid():
        kind = Sheet.Kind(form.cleaned_data["kind"])
        paper = form.cleaned_data["paper"]
        try:
            made = sheets.print_sheet(kind=kind, enrolment=enrolment, on=today, paper=paper, by=person, at=now)
        except Refusal as refusal:
            refused = str(refusal)
        else:
            return redirect("grading:sheet_pdf", made.uid)
    context = {"enrolment": enrolment, "form": form, "refused": refused}
    return render(request, "grading/print_sheet.html", context, status=422)


@require_http_methods(["GET", "POST"])
def endorsement_list(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an instructor's printed lists of endorsements (14 CFR 61.189(b)), and print a new one on a POST."""
    person, now = request.user, timezone.now()
    today = school_day(now)
    if not can_see_all_students(person):
        raise Http404("There is no such list for you.")  # before it is looked for: who teaches is not told either
    instructor = get_object_or_404(Person, pk=pk, roles__contains=[Role.INSTRUCTOR])
    if not (can_manage_records(person) or can_decide(person) or person.pk == instructor.pk):
        raise PermissionDenied("This list is for its instructor, the chief instructor and the administrator.")
    refused = ""
    if request.method == "POST":
        try:
            paper = get_school().paper
            made = sheets.print_endorsements(instructor=instructor, on=today, paper=paper, by=person, at=now)
        except Refusal as refusal:
            refused = str(refusal)
        else:
            return redirect("grading:sheet_pdf", made.uid)
    printed = Sheet.objects.filter(instructor=instructor).defer("pdf", "content").select_related("printed_by")
    context = {"instructor": instructor, "sheets": printed.order_by("-number"), "refused": refused}
    return render(request, "grading/endorsement_list.html", context, status=422 if refused else 200)


@require_GET
def sheet_pdf(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Send the stored sheet, always the same bytes, to the staff and its student."""
    made = Sheet.objects.select_related("enrolment__student", "instructor").filter(uid=uid).first()
    if made is None or not _can_read(request.user, made):
        raise Http404("There is no such sheet for you.")
    whose = made.enrolment.student if made.enrolment else made.instructor
    name = f"{made.get_kind_display().replace(' ', '-')}-{whose.reference}-{made.number}.pdf"
    # The stored bytes never change, so their digest names them; the right to read is checked first each time.
    etag = f'"{made.digest}"'
    headers = {"Content-Disposition": content_disposition(name, inline=True), "ETag": etag}
    answer = HttpResponse(bytes(made.pdf), content_type="application/pdf", headers=headers)
    return get_conditional_response(request, etag, None, answer)


def _can_read(person: Person, made: Sheet) -> bool:
    if made.enrolment is not None:
        return can_see_all_students(person) or made.enrolment.student_id == person.pk
    return can_manage_records(person) or can_decide(person) or made.instructor_id == person.pk


@login_not_required
@strangers_file
@require_http_methods(["GET", "POST"])
def check_sheet(request: HttpRequest, fingerprint: str = "") -> HttpResponse:
    """Check a file or look up a fingerprint, for anybody who holds a sheet. The file is not stored."""
    context: dict[str, object] = {"certificate": SigningCertificate.objects.newest_first().first()}
    status, asked = 200, fingerprint or request.GET.get("fingerprint", "")
    # A check may start a process that reads a stranger's PDF: unlimited, one address could keep every place taken.
    costs = request.method == "POST" or asked
    if costs and is_over_limit("check", request, settings.CHECKS_A_MINUTE, timezone.now()):
        context["error"] = (
            "Too many checks were requested from this network. Nothing was read: wait a minute, then continue."
        )
        answer = render(request, "grading/check_sheet.html", context, status=429)
        answer.headers["Retry-After"] = "60"
        return answer
    if request.method == "POST":
        sent = request.FILES.get("file")
        if sent is None:
            context["error"] = "Choose the PDF file first, or type the fingerprint that is printed on it."
        elif sent.size > MAX_FILE_BYTES:
            context["error"] = "The file is larger than any sheet. Nothing was read."
        else:
            # Who is logged in waits for a place a while; a stranger holds no thread of the server meanwhile.
            patience = PATIENCE_SECONDS if request.user.is_authenticated else 0.0
            context["found"] = verify(sent.read(), patience=patience)
        status = 422 if "error" in context else 200
    if asked:
        context |= {"asked": asked, "sheet": find_by_fingerprint(asked)}
    return render(request, "grading/check_sheet.html", context, status=status)


@login_not_required
@require_GET
def signing_certificate(request: HttpRequest, fingerprint: str) -> HttpResponse:
    """Send a certificate with which the school has signed, to verify the signature of a sheet."""
    # Public: a person who holds a sheet verifies its signature without an account here.
    certificate = get_object_or_404(SigningCertificate, fingerprint=fingerprint)
    name = f"school-certificate-{fingerprint[:16]}.pem"
    return HttpResponse(
        certificate.pem,
        content_type="application/x-pem-file",
        headers={"Content-Disposition": content_disposition(name)},
    )
