"""Reads that join what was taught: who is enrolled, how far they are, which unit is next."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Max

from lessons.models import Enrolment, Lesson, Unit


@dataclass(frozen=True)
class Course:
    """Where a student is in the syllabus: its units in order, those flown, the one under way."""

    units: tuple[Unit, ...]
    flown: frozenset[int]
    here: Unit

    @property
    def position(self) -> int:
        """1 for the first unit."""
        return self.units.index(self.here) + 1

    @property
    def band(self) -> list[dict[str, object]]:
        """One division a unit: its title, whether it opens a stage, and its state."""
        divisions: list[dict[str, object]] = []
        for place, unit in enumerate(self.units):
            state = "here" if unit == self.here else "done" if unit.pk in self.flown else "ahead"
            opens = place > 0 and unit.stage_id != self.units[place - 1].stage_id
            divisions.append({"unit": unit, "state": state, "opens_stage": opens})
        return divisions


def courses(enrolments: Iterable[Enrolment], on: date) -> dict[int, Course]:
    """The course of each enrolment as signed by a day, by its primary key. Two queries."""
    enrolments = list(enrolments)
    units = _units(enrolments)
    flown: dict[int, dict[int, date]] = defaultdict(dict)
    rows = (
        Lesson.objects.filter(enrolment__in=enrolments, signed_at__date__lte=on)
        .values_list("enrolment", "unit")
        .annotate(last=Max("on"))
    )
    for enrolment, unit, last in rows:
        flown[enrolment][unit] = last
    return {e.pk: _course(units[e.syllabus_id], flown[e.pk]) for e in enrolments}


def _units(enrolments: list[Enrolment]) -> dict[int, list[Unit]]:
    grouped: dict[int, list[Unit]] = defaultdict(list)
    syllabuses = {enrolment.syllabus_id for enrolment in enrolments}
    rows = Unit.objects.filter(stage__syllabus__in=syllabuses).select_related("stage")
    for unit in rows.order_by("stage__number", "number"):
        grouped[unit.stage.syllabus_id].append(unit)
    return grouped


def _course(units: list[Unit], flown: dict[int, date]) -> Course:
    """The unit under way is the furthest one flown; it stays so until the next one is begun."""
    reached = [unit for unit in units if unit.pk in flown]
    here = reached[-1] if reached else units[0]
    return Course(tuple(units), frozenset(flown), here)
