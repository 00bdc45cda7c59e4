"""What an inspector would miss in the records: the school's list, an instructor's own, the file."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from grading.pages.findings import (
    STUDENTS_ON_A_PAGE,
    WEIGHT_WORDS,
    Asked,
    as_csv,
    chosen,
    counted,
    grouped,
    instructors_of,
    kinds_of,
)
from grading.reading.inspection_facts import findings_of
from grading.rules.inspection import KINDS, Finding
from lessons.models import Enrolment, Lesson
from school.downloads import disposition
from school.permissions import can_decide, can_keep_records, can_see_all_students


@require_GET
def findings(request: HttpRequest) -> HttpResponse:
    """What is missing from the records or odd in them: of the school for chief and administrator, else one's own."""
    found, enrolments, whole = _found(request)
    asked = _asked(request)
    shown = chosen(found, asked, enrolments)
    query = request.GET.copy()
    query.pop("page", None)
    context: dict[str, Any] = {
        "count": len(found),
        "counted": counted(found),
        "page": Paginator(grouped(shown, enrolments, request.user), STUDENTS_ON_A_PAGE).get_page(
            request.GET.get("page")
        ),
        "shown": len(shown),
        "students": len(enrolments),
        "asked": asked,
        "kinds": kinds_of(found),
        "weights": WEIGHT_WORDS.items(),
        "instructors": instructors_of(found),
        "checked": KINDS.values(),
        "whole": whole,
        "query": query.urlencode(),
        "now": timezone.now(),
    }
    return render(request, "grading/findings.html", context)


@require_GET
def findings_csv(request: HttpRequest) -> StreamingHttpResponse:
    """The same as a file for a spreadsheet."""
    found, enrolments, _ = _found(request)
    lines = as_csv(chosen(found, _asked(request), enrolments), enrolments, request.user)
    name = f"findings-{timezone.localdate().isoformat()}.csv"
    return StreamingHttpResponse(
        lines, content_type="text/csv; charset=utf-8", headers={"Content-Disposition": disposition(name)}
    )


def _asked(request: HttpRequest) -> Asked:
    return Asked(**{name: request.GET.get(name, "").strip()[:60] for name in Asked._fields})


def _found(request: HttpRequest) -> tuple[list[Finding], dict[int, Enrolment], bool]:
    """What the reader may see, the enrolments by key in the order of names, and whether that is the whole school."""
    person, now = request.user, timezone.now()
    if not can_see_all_students(person):
        raise PermissionDenied("The records are checked by the staff.")
    whole = can_decide(person) or can_keep_records(person)
    rows = Enrolment.objects.for_pages().order_by("student__family_name", "student__given_name", "pk")
    if not whole:
        taught = Lesson.objects.filter(instructor=person).order_by().values("enrolment")
        rows = rows.filter(Q(instructor=person) | Q(pk__in=taught))
    enrolments = {row.pk: row for row in rows}
    found = findings_of(enrolments.values(), now, whole_school=whole)
    return (found if whole else [row for row in found if row.mends == person.pk]), enrolments, whole
