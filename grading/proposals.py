"""The grade lines of a lesson: what is proposed for each manoeuvre, why, and what the instructor gives."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from grading.marking import Deviation, Marked, Target, deviation, propose_grade
from grading.models import Attempt, Grade, Measure
from lessons.models import GateTarget, Lesson, Manoeuvre
from lessons.scale import Help, Level
from lessons.wind import Wind


@dataclass(frozen=True)
class GradeLine:
    """One manoeuvre of a lesson. `given` None: never looked at, so no grade is written."""

    manoeuvre: Manoeuvre
    expected: Level | None
    compulsory: bool
    proposed: Level
    explanation: str
    override: Level | None
    help: Help
    tapped: bool
    attempts: tuple[Attempt, ...] = field(default=())

    @property
    def looked_at(self) -> bool:
        return self.tapped or self.override is not None

    @property
    def given(self) -> Level | None:
        if self.override is not None:
            return self.override
        return self.proposed if self.tapped else None

    @property
    def own_attempt(self) -> Attempt | None:
        """The attempt flown by itself, outside a circuit."""
        return next((attempt for attempt in self.attempts if attempt.circuit_id is None), None)


def for_lesson(lesson: Lesson, attempts: list[Attempt] | None = None) -> list[GradeLine]:
    """A line for each manoeuvre of the unit, then for others that were flown.

    `attempts`: those of the lesson in the order flown, where the caller has them at hand.
    """
    by_manoeuvre: dict[int, list[Attempt]] = defaultdict(list)
    others: dict[int, Manoeuvre] = {}
    for attempt in attempts_of(lesson) if attempts is None else attempts:
        by_manoeuvre[attempt.manoeuvre_id].append(attempt)
        others[attempt.manoeuvre_id] = attempt.manoeuvre
    given = {row.manoeuvre_id: row for row in Grade.objects.filter(lesson=lesson).select_related("manoeuvre")}
    others |= {pk: row.manoeuvre for pk, row in given.items()}
    wind = wind_of(lesson)
    lines = []
    for graded in lesson.unit.graded.select_related("manoeuvre").order_by("order"):
        others.pop(graded.manoeuvre_id, None)
        expected = Level(graded.expected)
        own = by_manoeuvre[graded.manoeuvre_id]
        grade = given.get(graded.manoeuvre_id)
        lines.append(_line(graded.manoeuvre, own, grade, wind, expected, graded.compulsory))
    for pk, manoeuvre in others.items():
        lines.append(_line(manoeuvre, by_manoeuvre[pk], given.get(pk), wind))
    return lines


def attempts_of(lesson: Lesson) -> list[Attempt]:
    """Every attempt of a lesson in the order flown, with faults and measures at hand."""
    rows = (
        Attempt.objects.filter(lesson=lesson)
        .select_related("manoeuvre", "circuit")
        .prefetch_related("faults_seen__fault", "measures__target__gate")
    )
    return sorted(rows, key=lambda row: (row.circuit is None, row.circuit.number if row.circuit else 0, row.pk))


def wind_of(lesson: Lesson) -> Wind | None:
    if lesson.wind_speed_kt is None:
        return None
    return Wind(lesson.wind_direction, lesson.wind_speed_kt, lesson.wind_gust_kt)


def target_today(row: GateTarget, wind: Wind | None) -> Target:
    """The target of a gate in the wind of the day."""
    gust = Decimal(str(wind.gust_allowance_kt)) if wind and row.wind_rule == "half_gust" else Decimal(0)
    where = row.gate.name[0].lower() + row.gate.name[1:]
    return Target(f"at {where}", row.quantity, row.value + gust, row.over, row.under, row.unit)


def deviation_of(measure: Measure, wind: Wind | None) -> Deviation:
    return deviation(target_today(measure.target, wind), measure.value)


def marked(attempt: Attempt, wind: Wind | None) -> Marked:
    return Marked(
        level=Level(attempt.level) if attempt.level else None,
        help=Help(attempt.help),
        critical_faults=tuple(s.fault.name for s in attempt.faults_seen.all() if s.fault.critical),
        deviations=tuple(deviation_of(measure, wind) for measure in attempt.measures.all()),
    )


def _line(
    manoeuvre: Manoeuvre,
    attempts: list[Attempt],
    grade: Grade | None,
    wind: Wind | None,
    expected: Level | None = None,
    compulsory: bool = False,
) -> GradeLine:
    proposal = propose_grade([marked(attempt, wind) for attempt in attempts])
    tapped = [attempt for attempt in attempts if attempt.level]
    return GradeLine(
        manoeuvre=manoeuvre,
        expected=expected,
        compulsory=compulsory,
        proposed=proposal.level,
        explanation=proposal.sentence,
        override=Level(grade.given) if grade else None,
        help=max((Help(row.help) for row in tapped[-2:]), key=lambda word: word.rank, default=Help.NONE),
        tapped=bool(tapped),
        attempts=tuple(attempts),
    )
