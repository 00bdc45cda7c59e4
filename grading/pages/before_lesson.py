"""What stood of a student before a lesson that is being written: the course, what is open, the rows under way."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.functional import cached_property

from grading.models import StoredVerdict
from grading.pages.brief import faults_to_work_on
from grading.reading import verdict_cache
from grading.reading.student_summary import StudentRow, student_rows
from grading.rules.readiness import State
from lessons.models import Lesson
from school.kept import KeptPart

FAULTS_IN_BRIEF = 4
OPEN_IN_BRIEF = 4


@dataclass(frozen=True)
class Before:
    """As of the day of the lesson; out of what is stored where that day is today. `today` None: nothing is stored."""

    lesson: Lesson
    today: date | None

    def context(self) -> dict[str, Any]:
        """The parts of the page that are drawn from it, and how many landings in a row there were."""
        unit = self.lesson.unit_id
        stamp = f"{self._stored.name}:{unit}" if self._stored else ""
        return {
            "band": KeptPart(stamp and f"band:{stamp}", self._shown),
            "known": KeptPart(stamp and f"known:{stamp}", self._shown),
            "landings_in_a_row": self._stored.row["rows"]["landing"] if self._stored else self._row.rows["landing"],
        }

    @cached_property
    def _derived(self) -> tuple[StoredVerdict | None, StudentRow | None]:
        enrolment, on = self.lesson.enrolment, self.lesson.on
        return verdict_cache.fresh_of(enrolment, on) if on == self.today else (None, None)

    @property
    def _stored(self) -> StoredVerdict | None:
        return self._derived[0]

    @cached_property
    def _row(self) -> StudentRow:
        return self._derived[1] or student_rows([self.lesson.enrolment], self.lesson.on)[0]

    def _shown(self) -> dict[str, Any]:
        verdict = self._row.verdict
        faults = faults_to_work_on(self._row.history, self.lesson.unit.stage.syllabus_id)
        flown = [outcome for outcome in verdict.requirements if outcome.group == "standard"]
        return {
            "course": self._row.course,
            "brief_open": [outcome for outcome in flown if outcome.state is not State.MET][:OPEN_IN_BRIEF],
            "open_faults": faults[:FAULTS_IN_BRIEF],
            "more_faults": len(faults[FAULTS_IN_BRIEF:]),
        }
