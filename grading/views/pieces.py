"""The lesson page and its pieces, as they are answered to a load, a plain form or the events of a tablet."""

from collections.abc import Iterable, Mapping

from django.http import HttpRequest
from django.template.context_processors import csrf
from django.template.loader import render_to_string
from django.utils import timezone

from grading.pages.before_lesson import Before
from grading.pages.contact import last_number
from grading.pages.lesson_page import CHANGES_WIND, LessonPage
from grading.reading.release_limits import outside_release
from lessons.models import Lesson
from lessons.queries import excess_with
from school.models import Aircraft

CHANGES_HOURS = CHANGES_WIND | {
    f"lesson.{name}" for name in ("off_blocks", "on_blocks", "dual_minutes", "solo_minutes", "night_minutes")
}


def page_context(
    found: Lesson, number: int | None, typed: Mapping[str, str] | None = None, *, passing: bool = False
) -> dict[str, object]:
    """`since` is read first: what is written while the page is gathered is told to its tablet later.

    `typed`: what was sent and refused, so that it still stands in its fields. `passing`: the lesson does not stay, and
    nothing that rests on it is kept.
    """
    since = last_number(found)
    return {
        **LessonPage(found, number, typed).context(),
        **Before(found, None if passing else timezone.localdate()).context(),
        "aircraft": Aircraft.objects.filter(in_service=True, type=found.enrolment.aircraft_type_id)
        .select_related("type")
        .order_by("registration"),
        "excess": excess_with(found),
        "outside": outside_release(found),
        "saved_at": timezone.now(),
        "since": since,
    }


def work_html(request: HttpRequest, found: Lesson, number: int | None, details: bool) -> str:
    """All of the work, and with `details` the hours and the wind as well."""
    context = {**page_context(found, number), "with_status": True, "with_details": details}
    return _rendered(request, "grading/lesson.html#work", context)


def tap_html(request: HttpRequest, found: Lesson, number: int | None, written: Iterable[str]) -> str:
    """Only what these entries can have changed."""
    written = set(written)
    context = {**LessonPage(found, number).after_tap(written), "saved_at": timezone.now()}
    if CHANGES_HOURS & written:
        context |= {"with_limit": True, "excess": excess_with(found), "outside": outside_release(found)}
    return _rendered(request, "grading/lesson.html#after_tap", context)


def _rendered(request: HttpRequest, template: str, context: dict[str, object]) -> str:
    """Without the context that only a whole page needs: a tap asks no query for it."""
    return render_to_string(template, context | csrf(request))
