"""Import files of the administrator: each is uploaded once, checked, then imported whole or discarded."""

import uuid as uuids

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from grading.exchange import import_table, receiving
from grading.exchange.handover.preview import open_hand_over
from grading.exchange.handover.record_format import BadRecord
from grading.exchange.imports.import_columns import Column, group_problems
from grading.exchange.imports.import_forms import UploadForm
from grading.exchange.imports.school_words import SchoolWord
from grading.exchange.imports.table_reader import BadTable, example_file, read_table
from grading.models import PendingUpload
from school.current import school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import Person
from school.permissions import can_manage_records

# Limits of the preview alone: a table is imported whole or not at all.
MAX_ROWS_SHOWN = 100
MAX_PROBLEMS_SHOWN = 200
CONTENT_TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def require_records_admin(request: HttpRequest) -> Person:
    if not can_manage_records(request.user):
        raise PermissionDenied("Only the administrator may import files.")
    person: Person = request.user
    return person


@require_http_methods(["GET", "POST"])
def imports(request: HttpRequest) -> HttpResponse:
    """Upload a file of a chosen kind. It is stored, and nothing is imported yet."""
    keeper = require_records_admin(request)
    form = UploadForm(request.POST or None, request.FILES or None, initial={"kind": request.GET.get("kind")})
    problems: list[str] = []
    if request.method == "POST" and form.is_valid():
        kind, file = form.cleaned_data["kind"], form.cleaned_data["file"]
        content = file.read()
        if not (problems := _reading_problems(kind, content)):
            now = timezone.now()
            upload = receiving.save_upload(kind=kind, name=file.name, content=content, by=keeper, at=now)
            return redirect(_import_page(upload), upload.uid)
    tables = [(kind, kind.label, _columns_with_words(kind)) for kind in import_table.TABLE_KINDS]
    waiting = PendingUpload.objects.defer("content").select_related("uploaded_by").order_by("-uploaded_at")
    context = {
        "form": form,
        "problems": problems,
        "tables": tables,
        "waiting": [(row, _import_page(row)) for row in waiting],
    }
    return render(request, "grading/imports.html", context, status=422 if form.errors or problems else 200)


def _columns_with_words(kind: str) -> list[tuple[Column, list[SchoolWord]]]:
    words = import_table.import_words(kind)
    return [(column, words.get(column.key, [])) for column in import_table.import_columns(kind)]


def _reading_problems(kind: str, content: bytes) -> list[str]:
    """Return why a file cannot be used at all; such a file is not stored."""
    try:
        if kind == PendingUpload.Kind.HAND_OVER:
            open_hand_over(content)
        else:
            read_table(content)
    except BadRecord as bad:
        return bad.problems
    except BadTable as bad:
        return [str(bad)]
    return []


def _import_page(upload: PendingUpload) -> str:
    whole = upload.kind == PendingUpload.Kind.HAND_OVER
    return "grading:record_import" if whole else "grading:table_import"


@require_GET
def example_table(request: HttpRequest, kind: str, form: str) -> HttpResponse:
    """Send an empty file to fill in, with its columns explained and the words of this school that they take."""
    require_records_admin(request)
    if kind not in import_table.TABLE_KINDS or form not in CONTENT_TYPES:
        raise Http404("There is no such example.")
    columns = _columns_with_words(kind)
    lines = [line for column, words in columns for line in (column.line, *(f"{column.title}: {one}" for one in words))]
    choices = {column.title: [one.word for one in words] for column, words in columns}
    content = example_file([column.title for column, _ in columns], lines, choices, form)
    return HttpResponse(
        content,
        content_type=CONTENT_TYPES[form],
        headers={"Content-Disposition": content_disposition(f"{kind.replace('_', '-')}.{form}")},
    )


@require_http_methods(["GET", "POST"])
def table_import(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show what a table contains or what is wrong in it, and import it whole on a POST."""
    keeper, now = require_records_admin(request), timezone.now()
    upload = get_object_or_404(PendingUpload, uid=uid, kind__in=import_table.TABLE_KINDS)
    refused = ""
    if request.method == "POST":
        try:
            taken = import_table.import_table(upload=upload, on=school_day(now), by=keeper, at=now)
        except Refusal as refusal:
            refused = str(refusal)
        else:
            messages.info(request, f"{upload.name}: {taken} new of {upload.get_kind_display()}.")
            return redirect("grading:records")
    try:
        # Planned again at each look: another import may have added the same rows meanwhile.
        plan = import_table.plan_import(upload.kind, bytes(upload.content), school_day(now))
    except BadTable as bad:
        raise Http404(str(bad)) from bad
    grouped = group_problems(plan.problems)
    context = {
        "upload": upload,
        "plan": plan,
        "problems": grouped[:MAX_PROBLEMS_SHOWN],
        "more_problems": len(grouped[MAX_PROBLEMS_SHOWN:]),
        "shown": [list(zip(plan.headings, row, strict=True)) for row in plan.shown[:MAX_ROWS_SHOWN]],
        "known": plan.known[:MAX_ROWS_SHOWN],
        "refused": refused,
        "on_paper": upload.kind == PendingUpload.Kind.PAST_LESSONS,
        "people": upload.kind == PendingUpload.Kind.ROSTER,
    }
    return render(request, "grading/table_import.html", context, status=422 if refused else 200)


@require_POST
def discard_upload(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Discard an uploaded file."""
    keeper = require_records_admin(request)
    upload = get_object_or_404(PendingUpload, uid=uid)
    try:
        receiving.discard_upload(upload=upload, by=keeper, at=timezone.now())
    except Refusal as refusal:
        raise Http404(str(refusal)) from refusal
    messages.info(request, "The file is discarded. Nothing was imported from it.")
    return redirect("grading:imports")
