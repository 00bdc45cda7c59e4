"""Show the lessons of the school by the week, and a student's own."""

from datetime import date
from urllib.parse import urlencode

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from grading.pages.week import LESSONS_PER_PAGE, WeekRequest, lesson_lines, own_lesson_rows, week_context
from grading.reading.facts import standard_in_force
from lessons.fields import is_plausible_date
from school.current import get_school, school_day
from school.permissions import can_see_all_students

SHOWN_WORDS = (("unsigned", "not signed"), ("unanswered", "not acknowledged by the student"), ("late", "late"))


@require_GET
def week(request: HttpRequest) -> HttpResponse:
    """Show the lessons of one week by day: this week's, or that of the day in the address."""
    if not can_see_all_students(request.user):
        raise PermissionDenied("The lessons of all students are for staff.")
    today = school_day(timezone.now())
    asked = WeekRequest(**{name: request.GET.get(name, "").strip()[:60] for name in WeekRequest._fields})
    context = week_context(asked, _requested_day(request, today), today)
    kept = {name: value for name, value in asked._asdict().items() if value}
    counted = [
        (words, context["counts"][name], "?" + urlencode({"on": context["first"].isoformat(), **kept, "show": name}))
        for name, words in SHOWN_WORDS
    ]
    every = "?" + urlencode({"on": context["first"].isoformat()} | {**kept, "show": ""})
    return render(
        request,
        "grading/week.html",
        context | {"kept": f"&{urlencode(kept)}" if kept else "", "counted": counted, "every": every},
    )


@require_GET
def own_lessons(request: HttpRequest) -> HttpResponse:
    """Show a student all their signed lessons, fifty a page."""
    page = Paginator(own_lesson_rows(request.user), LESSONS_PER_PAGE).get_page(request.GET.get("page"))
    today = school_day(timezone.now())
    lines = lesson_lines(list(page.object_list), standard_in_force(get_school(), today), today)
    return render(request, "grading/own_lessons.html", {"page": page, "lines": lines})


def _requested_day(request: HttpRequest, today: date) -> date:
    try:
        day = date.fromisoformat(request.GET.get("on", ""))
    except ValueError:
        return today
    return day if is_plausible_date(day) else today
