"""Move the students of an issue of a syllabus to another one, with one mapping for all of them."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from grading.pages.moving import digest_of, moved_students
from lessons import moving
from lessons.models import Enrolment, Syllabus, Unit
from lessons.moving import MOST_AT_ONCE, likely_unit
from school.current import school_day
from school.errors import Refusal
from school.permissions import can_decide

NOTHING = "none"  # the answer that a unit counts as nothing


@require_http_methods(["GET", "POST"])
def move_students(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what each student of an issue gains and loses by one mapping; move those who are ticked (`act` move)."""
    if not can_decide(request.user):
        raise PermissionDenied("Only the chief instructor may move students to another issue.")
    issue = Syllabus.objects.filter(pk=pk, published_on__isnull=False).first()
    if issue is None:
        raise Http404("There is no such issue.")
    context = _page_context(request, issue)
    if request.POST.get("act") != "move":
        part = "#preview" if request.htmx and request.method == "POST" else ""
        return render(request, f"grading/move_students.html{part}", context)
    try:
        moved = _move(request, issue, context)
    except Refusal as refusal:
        context["refused"] = str(refusal)
        return render(request, "grading/move_students.html", context, status=422)
    number = len(moved)
    said = f"{moved[0].student} is" if number == 1 else f"{number} students are"
    messages.info(request, f"{said} in {context['target']} from now on. No lesson was changed.")
    return redirect("lessons:syllabus", context["target"].pk)


def _move(request: HttpRequest, issue: Syllabus, context: dict[str, Any]) -> list[Enrolment]:
    if context["target"] is None:
        raise Refusal("Choose the issue to move to.")
    if context["seen"] != request.POST.get("seen"):
        raise Refusal("The choice is not the one of the preview: look at it now, then move the students.")
    return moving.move_students(
        students=[row.enrolment.uid for row in context["changes"] if row.moves],
        before=issue,
        after=context["target"],
        mapping={old: new for old, new, _ in context["rows"]},
        reason=request.POST.get("reason", ""),
        by=request.user,
        at=timezone.now(),
    )


def _page_context(request: HttpRequest, issue: Syllabus) -> dict[str, Any]:
    today = school_day(timezone.now())
    asked = request.POST if request.method == "POST" else request.GET
    targets = list(Syllabus.objects.filter(published_on__isnull=False).exclude(pk=issue.pk).order_by("code", "-issue"))
    # The next issue of the same syllabus is the usual one; nobody moves to an issue that was not published.
    usual = next((row for row in targets if row.code == issue.code), targets[0] if targets else None)
    target = next((row for row in targets if str(row.pk) == asked.get("syllabus")), usual)
    everybody = Enrolment.objects.filter(syllabus=issue, ended_on=None).for_pages()
    by_name = everybody.order_by("student__family_name", "student__given_name", "pk")
    count, enrolments = everybody.count(), list(by_name[:MOST_AT_ONCE])
    context = {
        "issue": issue,
        "targets": targets,
        "target": target,
        "reason": request.POST.get("reason", ""),
        "others": count - len(enrolments),
        "count": count,
    }
    if target is None or not enrolments:
        return context
    rows, units = _mapped_rows(request.POST, enrolments, issue, target)
    mapping = {old.pk: new.pk if new else None for old, new, _ in rows}
    ticked = _ticked(request.POST) if request.method == "POST" else {row.uid for row in enrolments}
    changes = moved_students(enrolments, ticked, target, mapping, today)
    moving_now = [row for row in changes if row.moves]
    return context | {
        "rows": rows,
        "units": units,
        "changes": changes,
        "moving": len(moving_now),
        "losing": sum(bool(row.loses) for row in moving_now),
        "held_back": [row for row in changes if row.ticked and row.refused],
        "seen": digest_of(changes, target),
    }


def _mapped_rows(
    post: QueryDict, enrolments: list[Enrolment], issue: Syllabus, target: Syllabus
) -> tuple[list[tuple[Unit, Unit | None, int]], list[Unit]]:
    """Return each unit that somebody completed, what it counts as, and for how many; and the units to choose from."""
    wanted = moving.load_units_to_map(enrolments, issue.pk)
    units = list(
        Unit.objects.filter(stage__syllabus=target).select_related("stage").order_by("stage__number", "number")
    )
    olds = Unit.objects.filter(pk__in={unit for each in wanted.values() for unit in each}).select_related("stage")
    chosen = {str(unit.pk): unit for unit in units} | {NOTHING: None}
    rows = []
    for old in olds.order_by("stage__number", "number"):
        # Without a known answer the likely unit is proposed again, and shown: nothing is dropped in silence.
        answer = post.get(f"unit-{old.pk}", "")
        new = chosen[answer] if answer in chosen else likely_unit(old, units)
        rows.append((old, new, sum(old.pk in each for each in wanted.values())))
    return rows, units


def _ticked(post: QueryDict) -> set[UUID]:
    found = set()
    for text in post.getlist("students"):
        try:
            found.add(UUID(text))
        except ValueError:
            continue
    return found
