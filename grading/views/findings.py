"""List what an inspector would miss in the records: for the school, for one instructor, as a file."""

import uuid as uuids
from collections import Counter
from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Page, Paginator
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from grading.actions import findings as actions
from grading.models import SettledFinding
from grading.pages.findings import (
    FINDINGS_PER_PAGE,
    STUDENTS_PER_PAGE,
    WEIGHT_WORDS,
    FindingsFilter,
    count_by_kind,
    count_by_weight,
    filter_findings,
    group_by_kind,
    group_by_student,
    responsible_instructors,
    sort_by_kind,
    split_settled,
    stream_csv,
)
from grading.reading.facts import standard_in_force
from grading.reading.inspection_facts import collect_findings
from grading.reading.settled_findings import read_settled
from grading.rules.inspection import Finding, describe_kinds
from grading.rules.readiness import StandardSpec
from lessons.models import Enrolment, Lesson
from school.current import get_school, school_day
from school.downloads import content_disposition
from school.errors import Refusal
from school.models import Person
from school.permissions import (
    can_decide,
    can_manage_records,
    can_see_all_students,
    can_see_records,
    can_settle_findings,
)


@require_GET
def findings(request: HttpRequest) -> HttpResponse:
    """List what is missing or odd in the records: the whole school's for chief and administrator, else one's own."""
    return render(request, "grading/findings.html", _page_context(request, request.GET))


@require_GET
def findings_csv(request: HttpRequest) -> StreamingHttpResponse:
    """Send the same rows as a file for a spreadsheet."""
    seen, asked = _visible_findings(request), _requested_filter(request.GET)
    shown = filter_findings(seen.done if asked.done else seen.open, asked, seen.enrolments)
    lines = stream_csv(shown, seen.enrolments, request.user, seen.settled)
    name = f"findings-{school_day(timezone.now()).isoformat()}.csv"
    return StreamingHttpResponse(
        lines, content_type="text/csv; charset=utf-8", headers={"Content-Disposition": content_disposition(name)}
    )


@require_POST
def settle_finding(request: HttpRequest) -> HttpResponse:
    """Mark a finding as done, for a reason."""
    if not can_settle_findings(request.user):
        raise PermissionDenied("Only the chief instructor or the administrator marks a finding as done.")
    facts, reason = request.POST.get("facts", "")[:64], request.POST.get("reason", "")
    back = QueryDict(request.POST.get("back", "")[:500])
    whose = _person_or_enrolment(request)
    try:
        if whose is None:
            raise Refusal("Choose a finding of the list first.")
        actions.settle_finding(whose=whose, fingerprint=facts, reason=reason, by=request.user, at=timezone.now())
    except Refusal as refusal:
        if isinstance(whose, Enrolment) and "record" in back:
            back = QueryDict(urlencode({"by": "student", "q": whose.student.reference}))
        said = {"settling": facts, "settle_error": str(refusal), "settle_reason": reason}
        return render(request, "grading/findings.html", _page_context(request, back) | said, status=422)
    messages.info(request, f"The finding of {_name(whose)} is marked as done. The record itself is as it was.")
    return _redirect_back(request, back, whose)


@require_POST
def reopen_finding(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Open a finding again that was marked as done."""
    if not can_settle_findings(request.user):
        raise PermissionDenied("Only the chief instructor or the administrator opens a finding again.")
    settled = get_object_or_404(SettledFinding.objects.select_related("enrolment__student", "person"), uid=uid)
    whose = settled.enrolment or settled.person
    try:
        actions.reopen_finding(settled=settled, by=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.warning(request, str(refusal))
    else:
        messages.info(request, f"The finding of {_name(whose)} is open again.")
    return _redirect_back(request, QueryDict(request.POST.get("back", "")[:500]), whose)


def _person_or_enrolment(request: HttpRequest) -> Enrolment | Person | None:
    """Return whose finding a form names, None where it names nobody."""
    uid, person = request.POST.get("enrolment", ""), request.POST.get("person", "")
    if person.isdecimal():
        found: Person | None = Person.objects.filter(pk=int(person[:12])).first()
        return found
    try:
        return Enrolment.objects.for_pages().filter(uid=uuids.UUID(uid)).first()
    except ValueError:
        return None


def _name(whose: Enrolment | Person | None) -> str:
    return str(whose.student if isinstance(whose, Enrolment) else whose)


def _redirect_back(request: HttpRequest, back: QueryDict, whose: Enrolment | Person | None) -> HttpResponse:
    """Redirect to the page where the form was: the record of a student, or the list as it was narrowed."""
    if "record" in back and isinstance(whose, Enrolment) and can_see_records(request.user):
        return redirect(f"{reverse('grading:student_record', args=[whose.uid])}#findings")
    return redirect(f"{reverse('grading:findings')}{'?' if back else ''}{back.urlencode()}")


def _requested_filter(asked: QueryDict) -> FindingsFilter:
    return FindingsFilter(**{name: asked.get(name, "").strip()[:60] for name in FindingsFilter._fields})


def _page_context(request: HttpRequest, query: QueryDict) -> dict[str, Any]:
    # Read once and passed on: the findings and the list of what is checked name the same limits.
    standard = standard_in_force(get_school(), school_day(timezone.now()))
    seen, asked = _visible_findings(request, standard), _requested_filter(query)
    listed = seen.done if asked.done else seen.open
    shown = filter_findings(listed, asked, seen.enrolments)
    kept = query.copy()
    kept.pop("page", None)
    return {
        "count": len(listed),
        "open_count": len(seen.open),
        "done_count": len(seen.done),
        "counted": count_by_weight(seen.open),
        "page": _page(shown, asked, seen, request.user, query.get("page")),
        "shown": len(shown),
        "students": len(seen.enrolments),
        "asked": asked,
        "kinds": count_by_kind(listed),
        "weights": WEIGHT_WORDS.items(),
        "instructors": responsible_instructors(listed),
        "checked": describe_kinds(standard.policy, standard.rule_set),
        "whole": seen.whole,
        "may_settle": can_settle_findings(request.user),
        "query": kept.urlencode(),
        "now": timezone.now(),
    }


def _page(
    shown: list[Finding], asked: FindingsFilter, seen: "_Visible", reader: Person, number: str | None
) -> Page[Any]:
    """Return one page of the groups, by student or by kind."""
    if asked.by == "student":
        groups = group_by_student(shown, seen.enrolments, reader, seen.settled)
        return Paginator(groups, STUDENTS_PER_PAGE).get_page(number)
    page = Paginator(sort_by_kind(shown, seen.enrolments), FINDINGS_PER_PAGE).get_page(number)
    counts = Counter(finding.kind for finding in shown)
    page.object_list = group_by_kind(page.object_list, counts, seen.enrolments, reader, seen.settled)
    return page


class _Visible(NamedTuple):
    """What a reader may see: open and done, enrolments by key in the order of names, whether it is the whole school."""

    open: list[Finding]
    done: list[Finding]
    settled: dict[str, SettledFinding]
    enrolments: dict[int, Enrolment]
    whole: bool


def _visible_findings(request: HttpRequest, standard: StandardSpec | None = None) -> _Visible:
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
    found = found if whole else [row for row in found if row.mends == person.pk]
    settled = read_settled(found)
    return _Visible(*split_settled(found, settled), settled, enrolments, whole)
