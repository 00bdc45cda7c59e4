"""List what an inspector would miss in the records: for the school, for one instructor, as a file."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from grading.pages.findings import (
    STUDENTS_PER_PAGE,
    WEIGHT_WORDS,
    FindingsFilter,
    count_by_kind,
    count_by_weight,
    filter_findings,
    group_by_student,
    responsible_instructors,
    stream_csv,
)
from grading.reading.facts import standard_in_force
from grading.reading.inspection_facts import collect_findings
from grading.rules.inspection import Finding, describe_kinds
from grading.rules.readiness import StandardSpec
from lessons.models import Enrolment, Lesson
from school.current import get_school, school_day
from school.downloads import content_disposition
from school.permissions import can_decide, can_manage_records, can_see_all_students


@require_GET
def findings(request: HttpRequest) -> HttpResponse:
    """List what is missing or odd in the records: the whole school's for chief and administrator, else one's own."""
    # Read once and passed on: the findings and the list of what is checked name the same limits.
    standard = standard_in_force(get_school(), school_day(timezone.now()))
    found, enrolments, whole = _visible_findings(request, standard)
    asked = _requested_filter(request)
    shown = filter_findings(found, asked, enrolments)
    query = request.GET.copy()
    query.pop("page", None)
    context: dict[str, Any] = {
        "count": len(found),
        "counted": count_by_weight(found),
        "page": Paginator(group_by_student(shown, enrolments, request.user), STUDENTS_PER_PAGE).get_page(
            request.GET.get("page")
        ),
        "shown": len(shown),
        "students": len(enrolments),
        "asked": asked,
        "kinds": count_by_kind(found),
        "weights": WEIGHT_WORDS.items(),
        "instructors": responsible_instructors(found),
        "checked": describe_kinds(standard.policy, standard.rule_set),
        "whole": whole,
        "query": query.urlencode(),
        "now": timezone.now(),
    }
    return render(request, "grading/findings.html", context)


@require_GET
def findings_csv(request: HttpRequest) -> StreamingHttpResponse:
    """Send the same rows as a file for a spreadsheet."""
    found, enrolments, _ = _visible_findings(request)
    lines = stream_csv(filter_findings(found, _requested_filter(request), enrolments), enrolments, request.user)
    name = f"findings-{school_day(timezone.now()).isoformat()}.csv"
    return StreamingHttpResponse(
        lines, content_type="text/csv; charset=utf-8", headers={"Content-Disposition": content_disposition(name)}
    )


def _requested_filter(request: HttpRequest) -> FindingsFilter:
    return FindingsFilter(**{name: request.GET.get(name, "").strip()[:60] for name in FindingsFilter._fields})


def _visible_findings(
    request: HttpRequest, standard: StandardSpec | None = None
) -> tuple[list[Finding], dict[int, Enrolment], bool]:
    """Return what the reader may see, enrolments by key in the order of names, and whether that is the whole school."""
    person, now = request.user, timezone.now()
    if not can_see_all_students(person):
        raise PermissionDenied("The findings are for staff.")
    whole = can_decide(person) or can_manage_records(person)
    rows = Enrolment.objects.for_pages().order_by("student__family_name", "student__given_name", "pk")
    if not whole:
        # Also students of other instructors: the one who gave a lesson owes its signature.
        taught = Lesson.objects.filter(instructor=person).order_by().values("enrolment")
        rows = rows.filter(Q(instructor=person) | Q(pk__in=taught))
    enrolments = {row.pk: row for row in rows}
    found = collect_findings(enrolments.values(), now, whole_school=whole, standard=standard)
    # An instructor sees what they can correct, and not the omissions of colleagues.
    return (found if whole else [row for row in found if row.mends == person.pk]), enrolments, whole
