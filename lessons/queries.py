"""Reads that join what was taught: who is enrolled, how far they are, which unit is next."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from lessons.limits import WINDOW, Excess, Given, excesses, worst
from lessons.models import Enrolment, Lesson, Manoeuvre, Unit, UnitMapping
from lessons.models.lesson import LessonQuerySet
from lessons.published import units_of
from lessons.scale import Level
from school.models import AircraftType, Person


@dataclass(frozen=True)
class Missing:
    """A level that a unit still asks for. `reached` None: never graded."""

    manoeuvre: Manoeuvre
    expected: Level
    reached: Level | None


@dataclass(frozen=True)
class UnitStanding:
    """One unit of a student. It is complete once it was flown and every level it must reach has been reached."""

    unit: Unit
    flown: bool
    missing: tuple[Missing, ...]

    @property
    def complete(self) -> bool:
        return self.flown and not self.missing


@dataclass(frozen=True)
class Course:
    """Where a student is in the syllabus: its units in order, and the one to fly next."""

    standings: tuple[UnitStanding, ...]

    @property
    def units(self) -> tuple[Unit, ...]:
        return tuple(standing.unit for standing in self.standings)

    @property
    def next(self) -> UnitStanding:
        """The first that is not complete; the last one when all are."""
        return next((row for row in self.standings if not row.complete), self.standings[-1])

    @property
    def here(self) -> Unit:
        return self.next.unit

    @property
    def position(self) -> int:
        """1 for the first unit."""
        return self.units.index(self.here) + 1

    @property
    def band(self) -> list[dict[str, object]]:
        """One division a unit: its title, whether it opens a stage, and its state."""
        divisions: list[dict[str, object]] = []
        for place, standing in enumerate(self.standings):
            unit = standing.unit
            state = "here" if unit == self.here else "done" if standing.complete else "ahead"
            opens = place > 0 and unit.stage_id != self.units[place - 1].stage_id
            divisions.append({"unit": unit, "state": state, "opens_stage": opens})
        return divisions


# The best level given so far, by enrolment and code of the manoeuvre: read in the app above.
Reached = Mapping[int, Mapping[str, Level]]
# The keys of the units flown so far, by enrolment.
Flown = Mapping[int, Iterable[int]]


def courses(
    enrolments: Iterable[Enrolment], on: date, reached: Reached, flown: Flown | None = None
) -> dict[int, Course]:
    """The course of each enrolment as signed by a day, by its primary key. Two queries; one where `flown` is known."""
    enrolments = list(enrolments)
    units = {syllabus: units_of(syllabus) for syllabus in {enrolment.syllabus_id for enrolment in enrolments}}
    counted = _flown(enrolments, on) if flown is None else {pk: set(units) for pk, units in flown.items()}
    _count_moved(enrolments, counted)
    return {
        e.pk: Course(
            tuple(
                _standing(unit, counted.get(e.pk, set()), reached.get(e.pk, {}), e.aircraft_type)
                for unit in units[e.syllabus_id]
            )
        )
        for e in enrolments
    }


def _flown(enrolments: list[Enrolment], on: date) -> dict[int, set[int]]:
    flown: dict[int, set[int]] = defaultdict(set)
    rows = Lesson.objects.filter(enrolment__in=enrolments, signed_at__date__lte=on).values_list("enrolment", "unit")
    for enrolment, unit in rows.distinct():
        flown[enrolment].add(unit)
    return flown


def _count_moved(enrolments: list[Enrolment], flown: dict[int, set[int]]) -> None:
    """Units flown under an earlier issue count as those they were mapped to, move after move."""
    rows = UnitMapping.objects.filter(move__enrolment__in=enrolments, new__isnull=False).order_by("move_id")
    for enrolment, old, new in rows.values_list("move__enrolment", "old", "new"):
        if old in flown.get(enrolment, ()):
            flown[enrolment].add(new)


def _standing(unit: Unit, flown: set[int], reached: Mapping[str, Level], kind: AircraftType) -> UnitStanding:
    missing = []
    for graded in unit.needed:  # type: ignore[attr-defined] # prefetched in units_of
        manoeuvre, expected = graded.manoeuvre, Level(graded.expected)
        best = reached.get(manoeuvre.code)
        if manoeuvre.tailwheel_only and not kind.tailwheel:
            continue
        if best is None or best.rank < expected.rank:
            missing.append(Missing(manoeuvre, expected, best))
    return UnitStanding(unit, unit.pk in flown, tuple(missing))


def _given(lesson: Lesson) -> Given:
    assert lesson.off_blocks is not None
    assert lesson.on_blocks is not None
    name = f"{lesson.enrolment.student.name}, lesson {lesson.number}"
    return Given(lesson.off_blocks, lesson.on_blocks, lesson.dual_minutes, name)


def excess_with(lesson: Lesson) -> Excess | None:
    """The 24 hours with this lesson in them that hold more than 8 hours of flight training. One query.

    Lessons without block times are not counted: nobody knows when in the day they were.
    """
    if lesson.off_blocks is None or lesson.on_blocks is None or not lesson.dual_minutes:
        return None
    near = _flight_training().filter(
        instructor=lesson.instructor_id,
        off_blocks__lt=lesson.on_blocks + WINDOW,
        on_blocks__gt=lesson.off_blocks - WINDOW,
    )
    return worst((_given(row) for row in near), around=_given(lesson))


def instructor_excesses(since: date, until: date) -> list[tuple[Person, Excess]]:
    """Every 24 hours of an instructor with more than 8 hours of flight training, latest first. One query."""
    rows = _flight_training().filter(on__gte=since - timedelta(days=1), on__lte=until).select_related("instructor")
    by_instructor: dict[Person, list[Given]] = defaultdict(list)
    for row in rows:
        by_instructor[row.instructor].append(_given(row))
    found = [(person, excess) for person, given in by_instructor.items() for excess in excesses(given)]
    return sorted(found, key=lambda pair: pair[1].begin, reverse=True)


def _flight_training() -> LessonQuerySet:
    rows: LessonQuerySet = Lesson.objects.current().filter(
        dual_minutes__gt=0, off_blocks__isnull=False, on_blocks__isnull=False
    )
    return rows.select_related("enrolment__student")
