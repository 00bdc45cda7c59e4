"""This module shows a student as of a lesson that is being written: the course, what is open, the landings."""

from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import Any

from cachetools import LRUCache
from django.utils.functional import cached_property

from grading.models import StoredVerdict
from grading.pages.brief import open_faults_with_cures
from grading.reading import verdict_cache
from grading.reading.student_summary import StudentSummary, summarise_students
from grading.reading.verdict_cache import critical_fault_content, parts_content
from grading.rules.readiness import Outcome, State
from grading.rules.readiness.faults import FaultStatus, open_faults
from grading.rules.readiness.stored_form import verdict_from_plain
from lessons.models import Lesson
from school.fragment_cache import CachedFragment

# A brief is short: the page counts the faults that are left out.
FAULTS_IN_BRIEF = 4
REQUIREMENTS_IN_BRIEF = 4
# By the name of a stored verdict, which changes whenever the verdict does: as many as lessons are being written.
_OPEN_FAULTS: LRUCache[str, dict[tuple[str, str], FaultStatus]] = LRUCache(500)
_OPEN_FAULTS_LOCK = Lock()


@dataclass(frozen=True)
class PreLessonContext:
    """The student as of the day of the lesson, from the stored verdict where that day is today.

    `today` None: the stored verdict is not used.
    """

    lesson: Lesson
    today: date | None

    def context(self) -> dict[str, Any]:
        """Return the parts of the page that show it, and how far the landings are."""
        unit = self.lesson.unit_id
        # The unit is not in the stored verdict, and the band says whether it is the next one of the course. Without a
        # stored verdict, as for an earlier day, there is no stamp, and the parts are rendered each time.
        stamp = f"{self.stored_name}:{unit}" if self._stored else ""
        return {
            "band": CachedFragment(stamp and f"band:{stamp}", self._part_context),
            "known": CachedFragment(stamp and f"known:{stamp}", self._part_context),
            "landing_words": (self._stored.row["parts"] if self._stored else parts_content(self._summary))
            .get("landing", {})
            .get("words", ""),
        }

    @property
    def requirements(self) -> tuple[Outcome, ...]:
        """Return every requirement of the student on that day."""
        verdict = verdict_from_plain(self._stored.content) if self._stored else self._summary.verdict
        return verdict.requirements

    @property
    def critical_faults(self) -> list[dict[str, Any]]:
        """Return the open critical faults of the student on that day, as critical_fault_content() writes them."""
        stored = self._stored
        faults: list[dict[str, Any]] = (
            stored.row["critical_faults"] if stored else critical_fault_content(self._summary)
        )
        return faults

    def open_faults(self) -> dict[tuple[str, str], FaultStatus]:
        """Return the open faults of the student by manoeuvre and code, read once for each stored verdict."""
        stamp = self.stored_name
        with _OPEN_FAULTS_LOCK:
            known = _OPEN_FAULTS.get(stamp) if stamp else None
        if known is None:
            known = {(row.manoeuvre, row.code): row for row in open_faults(self._summary.history)}
            if stamp:
                with _OPEN_FAULTS_LOCK:
                    _OPEN_FAULTS[stamp] = known
        return known

    @cached_property
    def _stored_and_summary(self) -> tuple[StoredVerdict | None, StudentSummary | None]:
        enrolment, on = self.lesson.enrolment, self.lesson.on
        # Only today's verdict is stored: a lesson of another day is briefed from what was known on that day.
        return verdict_cache.get_or_derive_one(enrolment, on) if on == self.today else (None, None)

    @property
    def stored_name(self) -> str:
        """Return the name of the stored verdict of that day, which changes whenever the verdict does; else nothing."""
        return self._stored.name if self._stored else ""

    @property
    def _stored(self) -> StoredVerdict | None:
        return self._stored_and_summary[0]

    @cached_property
    def _summary(self) -> StudentSummary:
        # A fresh stored row comes without its summary, which is derived only where a part is rendered.
        return self._stored_and_summary[1] or summarise_students([self.lesson.enrolment], self.lesson.on)[0]

    def _part_context(self) -> dict[str, Any]:
        verdict = self._summary.verdict
        faults = open_faults_with_cures(self._summary.history, self.lesson.unit.stage.syllabus_id)
        # Only how the student flies: documents and tests are no matter for the minutes before a flight.
        flown = [outcome for outcome in verdict.requirements if outcome.group == "standard"]
        return {
            "course": self._summary.course,
            "brief_open": [outcome for outcome in flown if outcome.state is not State.MET][:REQUIREMENTS_IN_BRIEF],
            "open_faults": faults[:FAULTS_IN_BRIEF],
            "more_faults": len(faults[FAULTS_IN_BRIEF:]),
        }
