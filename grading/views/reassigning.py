"""Reassign many students at once: choose, look at what follows, confirm, and undo within some days."""

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.operations.reassigning_mail import tell_of_reassigning
from grading.pages.board import query_text
from grading.pages.reassigning import (
    Preview,
    build_preview,
    choice_words,
    instructors_to_choose,
    instructors_with_students,
    latest_acts,
    load_choice,
    students_to_choose,
)
from grading.reading import verdict_cache
from grading.reading.board_query import BoardRequest
from lessons import reassigning
from lessons.actions import INSTRUCTOR_CHANGED
from lessons.models import Enrolment
from lessons.reassigning import MOST_AT_ONCE, UNDO_DAYS
from school.current import school_day
from school.errors import Refusal
from school.models import JournalEntry, Person
from school.permissions import can_reassign

Choice = dict[UUID, int]


@require_http_methods(["GET", "POST"])
def reassign_students(request: HttpRequest) -> HttpResponse:
    """Show the students of a view of the board with what hangs on their instructor; reassign those who are ticked.

    The form looks (`act` preview), reassigns (reassign) or takes an act back (undo).
    """
    if not can_reassign(request.user):
        raise PermissionDenied("The chief instructor or the administrator reassigns students.")
    act = request.POST.get("act", "preview")
    if act == "undo":
        return _undo(request)
    context = _page_context(request)
    preview, to = context["preview"], context["to"]
    if act != "reassign":
        part = "#preview" if request.htmx and request.method == "POST" else ""
        return render(request, f"grading/reassign_students.html{part}", context)
    if to is None or preview is None:
        refused = "Choose the new instructor." if to is None else "Choose at least one student."
    elif preview.seen != request.POST.get("seen"):
        refused = "The choice is not the one of the preview: look at it now, then reassign."
    else:
        refused = _reassign(request, preview, to, context["posted"])
        if isinstance(refused, HttpResponse):
            return refused
    context["refused"] = refused
    return render(request, "grading/reassign_students.html", context, status=422)


def _page_context(request: HttpRequest) -> dict[str, Any]:
    now = timezone.now()
    today = school_day(now)
    asked = BoardRequest(**{name: request.GET.get(name, "").strip()[:60] for name in BoardRequest._fields})
    if asked.show or asked.unit:
        verdict_cache.derive_missing(Enrolment.objects.active(today).for_pages(), today)
    found = students_to_choose(asked, today)
    count, rows = found.count(), list(found[:MOST_AT_ONCE])
    posted = _posted_choice(request.POST)
    # A view that was chosen is meant as a whole; of the whole school nobody is ticked in advance.
    ticked = set(posted) if request.method == "POST" else {row.uid for row in rows if any(asked)}
    to = _person(request.POST.get("to"), instructors_to_choose())
    choice = load_choice(rows, ticked, to, today)
    teachers = instructors_with_students()
    teacher = next((row for row, _ in teachers if str(row.pk) == asked.instructor), None)
    return {
        "asked": asked,
        "query": query_text(asked),
        "heading": choice_words(asked, teacher, count),
        "choice": choice,
        "posted": posted,
        "others": count - len(rows),
        "teachers": teachers,
        "instructors": instructors_to_choose(),
        "to": to,
        "reason": request.POST.get("reason", ""),
        "preview": build_preview(choice, to, today) if to and any(row.ticked for row in choice) else None,
        "ticked": sum(row.ticked for row in choice),
        "acts": latest_acts(now - timedelta(days=UNDO_DAYS)),
        "undo_days": UNDO_DAYS,
        **_done_context(request),
    }


def _posted_choice(post: QueryDict) -> Choice:
    """Return the ticked students, and whose each was when the page was shown; what is no such key is left out."""
    choice: Choice = {}
    for text in post.getlist("students"):
        uid, _, teacher = text.partition(":")
        try:
            choice[UUID(uid)] = int(teacher)
        except ValueError:
            continue
    return choice


def _person(text: str | None, rows: Any) -> Person | None:
    found: Person | None = rows.filter(pk=int(text)).first() if text and text.isdecimal() and len(text) < 18 else None
    return found


def _reassign(request: HttpRequest, preview: Preview, to: Person, posted: Choice) -> str | HttpResponseRedirect:
    moving = [row.enrolment for row in preview.moving]
    try:
        entries = reassigning.reassign_students(
            taught_by={row.uid: posted[row.uid] for row in moving},
            instructor=to,
            reason=request.POST.get("reason", ""),
            by=request.user,
            at=timezone.now(),
        )
    except Refusal as refusal:
        return str(refusal)
    number = len(entries)
    said = f"{moving[0].student} is" if number == 1 else f"{number} students are"
    messages.info(request, f"{said} assigned to {to} from now on.")
    return _tell(request, entries[0], [(row, row.instructor) for row in moving])


def _tell(request: HttpRequest, entry: JournalEntry, before: list[tuple[Enrolment, Person]]) -> HttpResponseRedirect:
    """E-mail whom an act concerns once it stands, and go to the page that says what was done."""
    now = Enrolment.objects.for_pages().in_bulk([row.pk for row, _ in before])
    if untold := tell_of_reassigning([(now[row.pk], teacher) for row, teacher in before], by=request.user):
        messages.warning(request, untold)
    return redirect(f"{reverse('grading:reassign_students')}?done={entry.pk}")


def _undo(request: HttpRequest) -> HttpResponse:
    entry = _entry(request.POST.get("entry", ""))
    if entry is None:
        messages.warning(request, "That reassignment is not in the journal. Nobody was reassigned.")
        return redirect("grading:reassign_students")
    before = {row.enrolment.pk: row.enrolment.instructor for row in reassigning.find_moved(entry)}
    try:
        entries = reassigning.undo_reassigning(entry=entry, by=request.user, at=timezone.now())
    except Refusal as refusal:
        messages.warning(request, str(refusal))
        return redirect(f"{reverse('grading:reassign_students')}?done={entry.pk}")
    back = Enrolment.objects.for_pages().filter(pk__in=[row.subject_id for row in entries])
    left = len(before) - len(entries)
    kept = f" {left} who had a change or a lesson since {'stays' if left == 1 else 'stay'} as they are." if left else ""
    number = f"{len(entries)} student{'' if len(entries) == 1 else 's'}"
    messages.info(request, f"{number} reassigned to the instructor before.{kept}")
    return _tell(request, entries[0], [(row, before[row.pk]) for row in back])


def _entry(text: str) -> JournalEntry | None:
    known = text.isdecimal() and len(text) < 18
    return JournalEntry.objects.filter(what=INSTRUCTOR_CHANGED, pk=int(text)).first() if known else None


def _done_context(request: HttpRequest) -> dict[str, Any]:
    entry = _entry(request.GET.get("done", ""))
    if entry is None:
        return {}
    moved = reassigning.find_moved(entry)
    late = timezone.now() - entry.at > timedelta(days=UNDO_DAYS)
    return {"done": entry, "moved": moved, "to_undo": 0 if late else sum(row.to_undo for row in moved)}
