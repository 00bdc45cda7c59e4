"""Show who did what and when: the journal, the history of one student, the entries of one lesson."""

import uuid as uuids
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from grading.forms.training import JournalFilterForm
from grading.models import Tap
from grading.pages.journal import EVERY_ACT, filter_entries, find_people, journal_rows, read_page, stream_csv
from lessons.access import get_readable_lesson
from lessons.models import Enrolment
from school.current import school_day
from school.downloads import content_disposition
from school.models import JournalEntry, Person, Role
from school.models.journal import JournalQuerySet
from school.permissions import can_decide, can_manage_records, can_see_all_students

STAFF = [Role.INSTRUCTOR, Role.CHIEF, Role.ADMIN]


@require_GET
def journal(request: HttpRequest) -> HttpResponse:
    """Show the entries that match the query, newest first."""
    form, people = _read_form(request)
    context: dict[str, Any] = {"form": form, "people": people, "now": timezone.now(), "own": False}
    # Where a name may mean several people, the reader chooses first: the wrong history is worse than none.
    if form.is_valid() and people is None:
        context |= _page_context(request, _filtered_entries(form))
    query = request.GET.copy()
    query.pop("before", None)
    context["query"] = query.urlencode()
    return render(request, "grading/journal.html", context, status=422 if form.errors else 200)


@require_GET
def journal_csv(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    """Send all matching entries as a file for a spreadsheet."""
    form, people = _read_form(request)
    if not form.is_valid() or people is not None:
        context = {"form": form, "people": people, "now": timezone.now(), "own": False}
        return render(request, "grading/journal.html", context, status=422)
    name = f"journal-{school_day(timezone.now()).isoformat()}.csv"
    return StreamingHttpResponse(
        stream_csv(_filtered_entries(form)),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": content_disposition(name)},
    )


@require_GET
def own_journal(request: HttpRequest) -> HttpResponse:
    """Show a student what was done about them."""
    # Also a former student: a record outlives the role.
    if not (request.user.is_student or Enrolment.objects.filter(student=request.user).exists()):
        raise PermissionDenied("This page is for students: it lists the activity in their own record.")
    rows = filter_entries(about=request.user.pk, what=EVERY_ACT)
    context = {"own": True, "now": timezone.now(), **_page_context(request, rows)}
    return render(request, "grading/journal.html", context)


@require_GET
def lesson_taps(request: HttpRequest, uid: uuids.UUID) -> HttpResponse:
    """Show the staff how a lesson was entered, tap by tap."""
    lesson = get_readable_lesson(request.user, uid)
    if not can_see_all_students(request.user):
        raise PermissionDenied("How a lesson was entered is for staff.")
    taps = Tap.objects.filter(lesson=lesson).select_related("person", "undone_by").order_by("pk")
    return render(request, "grading/lesson_taps.html", {"lesson": lesson, "taps": taps})


def _page_context(request: HttpRequest, rows: JournalQuerySet) -> dict[str, Any]:
    entries, older = read_page(rows, request.GET.get("before", ""))
    return {"rows": journal_rows(entries, request.user), "older": older, "paged": "before" in request.GET}


def _read_form(request: HttpRequest) -> tuple[JournalFilterForm, list[Person] | None]:
    """Return the filter and the people whom the name may mean; None when one person is meant or nobody was named."""
    if not (can_decide(request.user) or can_manage_records(request.user)):
        raise PermissionDenied("The journal is for the chief instructor and the administrator.")
    staff = Person.objects.filter(roles__overlap=STAFF).by_name()
    form = JournalFilterForm(request.GET, staff=staff, acts=JournalEntry.objects.distinct_acts())
    if not form.is_valid() or not form.cleaned_data["about"].strip():
        return form, None
    people = find_people(form.cleaned_data["about"])
    if len(people) != 1:
        return form, people
    form.cleaned_data["about"] = people[0].pk
    return form, None


def _filtered_entries(form: JournalFilterForm) -> JournalQuerySet:
    return filter_entries(**form.cleaned_data | {"about": form.cleaned_data["about"] or None})
