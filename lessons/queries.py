"""Read how far enrolled students are and which unit is next."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from django.db.models import BigIntegerField
from django.db.models.functions import Cast, Extract

from lessons.earlier_training import credited_unit_reasons
from lessons.models import Enrolment, Lesson, UnitMapping
from lessons.models.lesson import LessonQuerySet
from lessons.models.published_values import PublishedManoeuvre, PublishedUnit
from lessons.published_content import syllabus_units
from lessons.rules.instructor_limits import WINDOW, ExcessPeriod, TrainingPeriod, find_excesses, find_worst_window
from lessons.rules.scale import Level
from school.current import end_of_school_day, school_day
from school.models import AircraftType, Person


@dataclass(frozen=True)
class MissingLevel:
    """A level that a unit still asks for. `reached` None: never graded."""

    manoeuvre: PublishedManoeuvre
    expected: Level
    reached: Level | None


@dataclass(frozen=True)
class UnitProgress:
    """One unit of a student. It is complete once it was flown and every level it must reach has been reached.

    `credited`: why it counts as complete on the strength of earlier training; empty for most.
    """

    unit: PublishedUnit
    flown: bool
    missing: tuple[MissingLevel, ...]
    credited: str = ""

    @property
    def is_earned(self) -> bool:
        """Return whether the unit is complete by what was flown here."""
        return self.flown and not self.missing

    @property
    def complete(self) -> bool:
        return self.is_earned or bool(self.credited)

    @property
    def state(self) -> str:
        # What was flown here is shown as done even where earlier training was credited as well.
        return "done" if self.is_earned else "credited" if self.credited else "ahead"


@dataclass(frozen=True)
class Course:
    """Where a student is in the syllabus: its units in order, and the one to fly next."""

    unit_progress: tuple[UnitProgress, ...]

    @property
    def units(self) -> tuple[PublishedUnit, ...]:
        return tuple(standing.unit for standing in self.unit_progress)

    @property
    def next(self) -> UnitProgress:
        """Return the first unit that is not complete, or the last one when all are."""
        return next((row for row in self.unit_progress if not row.complete), self.unit_progress[-1])

    @property
    def current_unit(self) -> PublishedUnit:
        return self.next.unit

    @property
    def position(self) -> int:
        """Return the place of the current unit, 1 for the first."""
        return self.units.index(self.current_unit) + 1

    @property
    def band(self) -> list[dict[str, object]]:
        """Return one division for each unit: the unit, its state and whether it opens a stage."""
        divisions: list[dict[str, object]] = []
        for place, standing in enumerate(self.unit_progress):
            unit = standing.unit
            state = "here" if unit == self.current_unit else standing.state
            opens = place > 0 and unit.stage_id != self.units[place - 1].stage_id
            divisions.append({"unit": unit, "state": state, "opens_stage": opens})
        return divisions

    @property
    def credited(self) -> list[UnitProgress]:
        """Return the units that count as complete only on the strength of earlier training."""
        return [row for row in self.unit_progress if row.credited and not row.is_earned]


# The best level given so far, by enrolment and code of the manoeuvre: read in the app above.
# By code and not by key: a manoeuvre has another key in each issue, and a student may be moved to another issue.
ReachedLevels = Mapping[int, Mapping[str, Level]]
# The keys of the units flown so far, by enrolment.
FlownUnits = Mapping[int, Iterable[int]]


def load_courses(
    enrolments: Iterable[Enrolment], on: date, reached: ReachedLevels, flown: FlownUnits | None = None
) -> dict[int, Course]:
    """Return the course of each enrolment by its primary key, as signed by a day. Three queries; two with `flown`."""
    enrolments = list(enrolments)
    # Many students share few issues: each one is looked up once, in the cache of published content.
    units = {syllabus: syllabus_units(syllabus) for syllabus in {enrolment.syllabus_id for enrolment in enrolments}}
    credited = credited_unit_reasons(enrolments, on)
    counted = _flown_units(enrolments, on) if flown is None else {pk: set(units) for pk, units in flown.items()}
    # Mapped last: what was flown and what was credited are both carried over to the new issue.
    _count_mapped_units(enrolments, counted, credited)
    return {
        e.pk: _build_course(
            e, units[e.syllabus_id], counted.get(e.pk, set()), reached.get(e.pk, {}), credited.get(e.pk, {})
        )
        for e in enrolments
    }


def load_courses_after_move(
    enrolments: Iterable[Enrolment], on: date, reached: ReachedLevels, syllabus: int, mapping: Mapping[int, int | None]
) -> dict[int, Course]:
    """Return the course that each would have in another issue by a mapping of keys. Three queries."""
    enrolments = list(enrolments)
    units, counted, credited = (
        syllabus_units(syllabus),
        _flown_units(enrolments, on),
        credited_unit_reasons(enrolments, on),
    )
    _count_mapped_units(enrolments, counted, credited)
    for enrolment in enrolments:
        flown, given = counted[enrolment.pk], credited.setdefault(enrolment.pk, {})
        for old, new in mapping.items():
            if new is not None and old in flown:
                flown.add(new)
            if new is not None and old in given:
                given.setdefault(new, given[old])
    return {
        row.pk: _build_course(row, units, counted[row.pk], reached.get(row.pk, {}), credited[row.pk])
        for row in enrolments
    }


def _build_course(
    enrolment: Enrolment,
    units: Iterable[PublishedUnit],
    flown: set[int],
    reached: Mapping[str, Level],
    credited: Mapping[int, str],
) -> Course:
    return Course(tuple(_unit_progress(unit, flown, reached, enrolment.aircraft_type, credited) for unit in units))


def _flown_units(enrolments: list[Enrolment], on: date) -> dict[int, set[int]]:
    flown: dict[int, set[int]] = defaultdict(set)
    # By the day of the signature: what is signed later must not change the course of a past day.
    rows = Lesson.objects.filter(enrolment__in=enrolments, signed_at__lt=end_of_school_day(on))
    for enrolment, unit in rows.values_list("enrolment", "unit").distinct():
        flown[enrolment].add(unit)
    return flown


def _count_mapped_units(
    enrolments: list[Enrolment], flown: dict[int, set[int]], credited: dict[int, dict[int, str]]
) -> None:
    """Count units of an earlier issue as those they were mapped to, move after move."""
    # In the order of the moves: a unit mapped twice is followed from issue to issue in one pass.
    rows = UnitMapping.objects.filter(move__enrolment__in=enrolments, new__isnull=False).order_by("move_id")
    for enrolment, old, new in rows.values_list("move__enrolment", "old", "new"):
        if old in flown.get(enrolment, ()):
            flown[enrolment].add(new)
        if old in credited.get(enrolment, {}):
            credited[enrolment].setdefault(new, credited[enrolment][old])


def _unit_progress(
    unit: PublishedUnit, flown: set[int], reached: Mapping[str, Level], kind: AircraftType, credited: Mapping[int, str]
) -> UnitProgress:
    missing = []
    for graded in unit.compulsory:
        manoeuvre, expected = graded.manoeuvre, Level(graded.expected)
        # The best level ever given: slipping back is a matter of readiness and not of the course.
        best = reached.get(manoeuvre.code)
        # Asked of a nosewheel type, the unit could never become complete.
        if manoeuvre.tailwheel_only and not kind.tailwheel:
            continue
        if best is None or best.rank < expected.rank:
            missing.append(MissingLevel(manoeuvre, expected, best))
    return UnitProgress(unit, unit.pk in flown, tuple(missing), credited.get(unit.pk, ""))


def _training_period(lesson: Lesson) -> TrainingPeriod:
    # For the type checker: lessons without block times were left out by the query and by its caller.
    assert lesson.off_blocks is not None
    assert lesson.on_blocks is not None
    name = f"{lesson.enrolment.student.name}, lesson {lesson.number}"
    return TrainingPeriod(lesson.off_blocks, lesson.on_blocks, lesson.dual_minutes, name)


def find_excess_around(lesson: Lesson) -> ExcessPeriod | None:
    """Return the 24 hours around this lesson with more than 8 hours of flight training, if any. One query.

    Lessons without block times are not counted: nobody knows when in the day they were.
    """
    if lesson.off_blocks is None or lesson.on_blocks is None or not lesson.dual_minutes:
        return None
    # The window rolls (14 CFR 61.195(a)), so lessons up to 24 hours away on either side can share one with this lesson.
    near = _flight_training().filter(
        instructor=lesson.instructor_id,
        off_blocks__lt=lesson.on_blocks + WINDOW,
        on_blocks__gt=lesson.off_blocks - WINDOW,
    )
    near = near.select_related("enrolment__student")
    return find_worst_window((_training_period(row) for row in near), around=_training_period(lesson))


def instructor_excesses(since: date, until: date, only: Person | None = None) -> list[tuple[Person, ExcessPeriod]]:
    """Return each instructor's 24 hours with more than 8 hours of flight training, latest first. Two queries.

    only: of this instructor alone.
    """
    # A window that reaches into the first day may begin on the day before; date.min has no day before it.
    rows = _flight_training().filter(on__gte=since if since == date.min else since - timedelta(days=1), on__lte=until)
    if only is not None:
        rows = rows.filter(instructor=only)
    by_instructor: dict[int, list[TrainingPeriod]] = defaultdict(list)
    for instructor, begin, end, minutes, given, family, number in rows.annotate(
        begin=_epoch_seconds("off_blocks"), end=_epoch_seconds("on_blocks")
    ).values_list(
        "instructor",
        "begin",
        "end",
        "dual_minutes",
        "enrolment__student__given_name",
        "enrolment__student__family_name",
        "number",
    ):
        times = datetime.fromtimestamp(begin, UTC), datetime.fromtimestamp(end, UTC)
        by_instructor[instructor].append(TrainingPeriod(*times, minutes, f"{given} {family}, lesson {number}"))
    found = [(key, excess) for key, given in by_instructor.items() for excess in find_excesses(given)]
    # Only the instructors with an excess are read, in one query.
    people = Person.objects.in_bulk({key for key, _ in found})
    return sorted(((people[key], excess) for key, excess in found), key=lambda pair: pair[1].begin, reverse=True)


@dataclass(frozen=True)
class TrainingDay:
    """What an instructor gave on one day of the school, in minutes."""

    on: date
    lessons: int
    flight: int
    ground: int


@dataclass(frozen=True)
class TrainingGiven:
    """What an instructor gave up to a moment: day by day, the newest first, and the flight training of 24 hours.

    untimed: lessons of the last two days whose flight training has no block times, so that no 24 hours count them.
    """

    days: list[TrainingDay]
    last_24_hours: int
    untimed: int

    @property
    def lessons(self) -> int:
        return sum(day.lessons for day in self.days)

    @property
    def flight(self) -> int:
        return sum(day.flight for day in self.days)

    @property
    def ground(self) -> int:
        return sum(day.ground for day in self.days)


DAYS_OF_DUTY = 7


def training_given(instructor: Person, at: datetime) -> TrainingGiven:
    """Return what an instructor gave in the 24 hours and in the seven days of the school to a moment. One query.

    Signed or not: the limit of 24 hours is about what was flown.
    """
    today = school_day(at)
    rows = list(
        Lesson.objects.filter(
            instructor=instructor, superseded_by=None, on__gt=today - timedelta(days=DAYS_OF_DUTY), on__lte=today
        ).values_list("on", "off_blocks", "on_blocks", "dual_minutes", "ground_minutes")
    )
    days = []
    for back in range(DAYS_OF_DUTY):
        on = today - timedelta(days=back)
        own = [row for row in rows if row[0] == on]
        days.append(TrainingDay(on, len(own), sum(row[3] for row in own), sum(row[4] for row in own)))
    flown = [row for row in rows if row[3]]
    timed = [TrainingPeriod(off, back, dual) for _, off, back, dual, _ in flown if off and back]
    recent = [row for row in flown if row[0] > today - timedelta(days=2) and not (row[1] and row[2])]
    return TrainingGiven(days, round(sum(row.minutes_within(at - WINDOW, at) for row in timed)), len(recent))


def _epoch_seconds(field: str) -> Cast:
    """Select a moment as whole seconds, much the fastest to read for forty thousand rows."""
    return Cast(Extract(field, "epoch"), BigIntegerField())


def _flight_training() -> LessonQuerySet:
    # The limit is about flight training: minutes of solo flight and on the ground do not count toward it.
    # One version of each flight: while a correction is written it stands for the lesson it corrects.
    rows: LessonQuerySet = Lesson.objects.filter(
        superseded_by=None, dual_minutes__gt=0, off_blocks__isnull=False, on_blocks__isnull=False
    )
    return rows
