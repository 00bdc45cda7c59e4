"""Render the lesson page and its pieces: for a load, a refused plain form or the events of a tablet."""

from collections.abc import Iterable, Mapping

from django.http import HttpRequest
from django.template.context_processors import csrf
from django.template.loader import render_to_string
from django.utils import timezone

from grading.pages.before_flight import warnings_before_flight
from grading.pages.before_lesson import PreLessonContext
from grading.pages.device_sync import last_tap_number
from grading.pages.lesson_page import WIND_FIELDS, LessonPage
from grading.pages.lesson_sections import LessonSections, excess_around
from grading.reading.lesson_stamp import LessonStamp
from grading.reading.release_limits import find_breaches
from lessons.models import Lesson
from school.current import school_day

# Entries that can bring the instructor over 8 hours in 24 (14 CFR 61.195(a)) or the flight outside its release.
HOURS_FIELDS = WIND_FIELDS | {
    f"lesson.{name}" for name in ("off_blocks", "on_blocks", "dual_minutes", "solo_minutes", "night_minutes")
}


def lesson_page_context(
    found: Lesson, number: int | None, typed: Mapping[str, str] | None = None, *, transient: bool = False
) -> dict[str, object]:
    """Return the context of the page, drawn anew; what is written while it is gathered reaches its tablet later.

    `typed`: what was sent and refused, so that it is still in its fields. `transient`: the lesson is not saved, and
    nothing that rests on it is cached.
    """
    # Before anything else is read: a tap that is written meanwhile must be newer than this number.
    since = last_tap_number(found)
    student = PreLessonContext(found, None if transient else school_day(timezone.now()))
    sections = LessonSections(lambda: found, student, number, typed)
    return {**sections.whole(), "saved_at": timezone.now(), "since": since}


def kept_lesson_page(found: Lesson, stamp: LessonStamp, number: int | None) -> dict[str, object]:
    """Return the context of the page with its sections as they are kept under a stamp, read before anything else.

    `found` names the lesson in the head of the page; a section that is drawn reads it with all that it shows.
    """
    student = PreLessonContext(found, school_day(timezone.now()))
    sections = LessonSections(lambda: Lesson.objects.for_pages().get(pk=found.pk), student, number)
    return {"lesson": found, **sections.kept(stamp), "saved_at": timezone.now(), "since": stamp.last_tap}


def render_work(request: HttpRequest, found: Lesson, number: int | None) -> str:
    """Render all of the work, and what lies outside of it: the hours, the wind, what is missing."""
    context = {**lesson_page_context(found, number), "with_status": True}
    return _render(request, "grading/lesson.html#work", context)


def render_changes(request: HttpRequest, found: Lesson, number: int | None, written: Iterable[str]) -> str:
    """Render only what these entries can have changed."""
    written = set(written)
    context = {**LessonPage(found, number).after_tap(written), "saved_at": timezone.now()}
    if HOURS_FIELDS & written:
        breaches = find_breaches(found)
        outside = [breach.sentence for breach in breaches]
        context |= {"with_limit": True, "excess": excess_around(found), "outside": outside}
        if WIND_FIELDS & written:
            student = PreLessonContext(found, school_day(timezone.now()))
            warnings = warnings_before_flight(found, student, context, breaches)
            context |= {"with_warnings": True, "warnings": warnings}
    return _render(request, "grading/lesson.html#after_tap", context)


def _render(request: HttpRequest, template: str, context: dict[str, object]) -> str:
    """Render without the context processors that only a whole page needs: they would cost each tap their queries."""
    return render_to_string(template, context | csrf(request))
