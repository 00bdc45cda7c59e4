"""This module compares what the next unit grades with what the student was last given for it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from grading.models import Grade
from grading.reading.student_summary import StudentSummary
from grading.rules.readiness.next_steps import NextStep
from lessons.models import Enrolment
from lessons.published_content import unit_manoeuvres
from lessons.rules.scale import Level
from school.current import end_of_school_day


@dataclass(frozen=True)
class UnitItem:
    """One manoeuvre of the unit: the level it asks for, whether that was ever reached, and the last grade, if any."""

    title: str
    expected: Level
    reached: bool
    last: Grade | None


@dataclass(frozen=True)
class UnitAhead:
    """What the next unit grades, in its order; empty where it grades nothing (a unit on the ground may)."""

    number: int
    title: str
    items: tuple[UnitItem, ...]

    @property
    def words(self) -> str:
        """Return how much of the unit is left in a sentence."""
        left, count = sum(not item.reached for item in self.items), len(self.items)
        if not left:
            return "Everything it grades is at the level it asks for: the unit itself is still to be flown."
        if left == count:
            return "It grades this:" if count == 1 else f"It grades these {count}:"
        return f"{left} of the {count} it grades {'is' if left == 1 else 'are'} still below the level it asks for."


def build_unit_ahead(row: StudentSummary, enrolment: Enrolment, on: date) -> UnitAhead:
    """Return the unit that comes next with the last grade of each of its manoeuvres. One query."""
    progress = row.course.next
    asked = [
        graded
        for graded in unit_manoeuvres(progress.unit.pk)
        if enrolment.aircraft_type.tailwheel or not graded.manoeuvre.tailwheel_only
    ]
    last = _last_grades(enrolment, [graded.manoeuvre.code for graded in asked], on)
    below = {missing.manoeuvre.code for missing in progress.missing}
    return UnitAhead(
        progress.unit.number,
        progress.unit.title,
        tuple(
            UnitItem(
                graded.manoeuvre.title,
                Level(graded.expected),
                # Of what need not be graded nothing is missing, and it counts as reached only once it was graded.
                graded.manoeuvre.code not in below and graded.manoeuvre.code in last,
                last.get(graded.manoeuvre.code),
            )
            for graded in asked
        ),
    )


def _last_grades(enrolment: Enrolment, codes: Sequence[str], on: date) -> dict[str, Grade]:
    """Return the last grade of each code that was given by the day, out of signed lessons and their corrections."""
    current = Q(lesson__superseded_by=None) | Q(lesson__superseded_by__signed_at=None)
    rows = (
        Grade.objects.filter(current, lesson__enrolment=enrolment, lesson__signed_at__lt=end_of_school_day(on))
        .filter(manoeuvre__code__in=codes)
        .exclude(given=Level.NOT_OBSERVED.value)
        .select_related("lesson", "manoeuvre")
        .order_by("lesson__on", "lesson__number")
    )
    return {grade.manoeuvre.code: grade for grade in rows}


def steps_of_units_so_far(row: StudentSummary, steps: Sequence[NextStep]) -> list[NextStep]:
    """Return the steps that the student can take now: what was taught by the next unit, and lapsed papers.

    A beginner is not told to go around before a go-around was taught.
    """
    taught = {
        graded.manoeuvre.code for unit in row.course.units[: row.course.position] for graded in unit_manoeuvres(unit.pk)
    }
    return [step for step in steps if step.is_lapsed_paper or (step.manoeuvres and taught.issuperset(step.manoeuvres))]
