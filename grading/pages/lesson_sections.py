"""This module gathers the sections of the page of a lesson, each kept as drawn until what it shows changes."""

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.functional import cached_property

from grading.pages.before_flight import warnings_before_flight
from grading.pages.before_lesson import PreLessonContext
from grading.pages.lesson_page import LessonPage
from grading.reading.late_entries import open_questions
from grading.reading.lesson_stamp import LessonStamp
from grading.reading.release_limits import Breach, find_breaches
from lessons.models import Lesson
from lessons.queries import find_excess_around
from lessons.rules.instructor_limits import ExcessPeriod
from school.citations import follows_us_rules
from school.fragment_cache import CachedFragment
from school.models import Aircraft

# A section of a page that is drawn anew: what it shows is in the context already.
DRAWN_ANEW = CachedFragment("", dict)
SECTIONS = ("body", "before", "brief", "pad_wind", "hours")


class LessonSections:
    """What each section shows. `find` reads the lesson, once, where a section is drawn that needs it."""

    def __init__(
        self,
        find: Callable[[], Lesson],
        student: PreLessonContext,
        number: int | None = None,
        typed: Mapping[str, str] | None = None,
    ) -> None:
        self.find, self.student, self.number, self.typed = find, student, number, typed

    @cached_property
    def page(self) -> LessonPage:
        return LessonPage(self.find(), self.number, self.typed, self.student.open_faults)

    @property
    def lesson(self) -> Lesson:
        return self.page.lesson

    def whole(self) -> dict[str, Any]:
        """Return everything at once, to be drawn anew."""
        return {**self._body(), **self._brief(), **self._before(), **self._hours(), "kept": _all_drawn_anew()}

    def kept(self, stamp: LessonStamp) -> dict[str, Any]:
        """Return the sections as they are kept under the stamp of the lesson.

        They are drawn anew where nothing that is known of the student is stored under a name.
        """
        if not (known := self.student.stored_name):
            return self.whole()
        setting, flown = (*stamp.setting, known), stamp.circuits
        sections = {
            "before": CachedFragment(("before flight", setting), self._before),
            "brief": CachedFragment(("brief", setting, bool(flown)), self._brief),
            "pad_wind": CachedFragment(("wind over the pad", setting), lambda: self.page.wind_context),
            "hours": CachedFragment(("hours", setting, flown), self._hours),
        }
        body, late = ("lesson page", self.number, stamp.whole, known), stamp.has_late_entries
        return {"kept": {"body": CachedFragment(body, lambda: {**self._body(late), "kept": sections})}}

    def _body(self, has_late_entries: bool = True) -> dict[str, Any]:
        questions = open_questions(self.lesson) if has_late_entries else []
        return {**self.student.context(), **self.page.work_context, "late_questions": questions}

    def _before(self) -> dict[str, Any]:
        brief = {"release_status": self.page.release_status, "releases_in_force": self.page.releases_in_force}
        return {"warnings": warnings_before_flight(self.lesson, self.student, brief, self._breaches)}

    def _brief(self) -> dict[str, Any]:
        return {**self.page.details_context, "asked": self.page.asked, **self.page.brief_context}

    def _hours(self) -> dict[str, Any]:
        own_type = Aircraft.objects.filter(in_service=True, type=self.lesson.enrolment.aircraft_type_id)
        return {
            **self.page.hours_context,
            "aircraft": own_type.select_related("type").order_by("registration"),
            "excess": excess_around(self.lesson),
            "outside": [breach.sentence for breach in self._breaches],
        }

    @cached_property
    def _breaches(self) -> list[Breach]:
        return find_breaches(self.lesson)


def excess_around(lesson: Lesson) -> ExcessPeriod | None:
    # The 8 hours are those of 14 CFR 61.195(a); no European limit was read.
    return find_excess_around(lesson) if follows_us_rules() else None


def _all_drawn_anew() -> dict[str, CachedFragment]:
    return dict.fromkeys(SECTIONS, DRAWN_ANEW)
