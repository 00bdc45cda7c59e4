"""The grade lines of a lesson: what is proposed for each manoeuvre, why, and what the instructor gives."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure
from grading.rules.marking import Deviation, Marked, Target, deviation, propose_grade
from lessons.conditions import wind_of
from lessons.models import Criterion, GateTarget, Lesson, Manoeuvre, UnitManoeuvre
from lessons.published import criteria_by_pk, criteria_of, faults_by_pk, graded_in, manoeuvres_by_pk
from lessons.rules.scale import LEARNER_CENTRED, Help, Level, Rule, Scale, Step
from lessons.rules.units import KNOTS_AND_FEET, Units
from lessons.rules.wind import Wind
from school.current import the_school


@dataclass(frozen=True)
class Ruler:
    """What a lesson is held against: the scale, the wind of the day, the units people speak in.

    `later`: numbers that do not count yet, (manoeuvre, gate, quantity) to the unit from which they do.
    """

    wind: Wind | None = None
    scale: Scale = LEARNER_CENTRED
    units: Units = KNOTS_AND_FEET
    later: dict[tuple[int, str, str], int] = field(default_factory=dict)

    def counts_from(self, manoeuvre_id: int, target: GateTarget) -> int | None:
        """The unit from which a number counts, while that lies ahead."""
        return self.later.get((manoeuvre_id, target.gate.code, target.quantity))


def ruler_of(lesson: Lesson) -> Ruler:
    """One query."""
    school = the_school()
    later = [
        row
        for row in criteria_of(lesson.unit.stage.syllabus_id)
        if row.kind == Criterion.Kind.MEASURED and (row.from_unit or 0) > lesson.unit.number
    ]
    return Ruler(
        wind=wind_of(lesson),
        scale=scale_of(lesson),
        units=Units(school.speed_unit, school.length_unit),
        later={(row.manoeuvre_id, row.gate, row.quantity): row.from_unit or 0 for row in later},
    )


def scale_of(lesson: Lesson) -> Scale:
    return lesson.unit.stage.syllabus.scale.scale


@dataclass(frozen=True)
class GradeLine:
    """One manoeuvre of a lesson. `given` None: never looked at, so no grade is written."""

    manoeuvre: Manoeuvre
    expected: Step | None
    compulsory: bool
    proposed: Step
    explanation: str
    override: Step | None
    help: Help
    tapped: bool
    attempts: tuple[Attempt, ...] = field(default=())

    @property
    def looked_at(self) -> bool:
        return self.tapped or self.override is not None

    @property
    def given(self) -> Step | None:
        if self.override is not None:
            return self.override
        return self.proposed if self.tapped else None

    @property
    def own_attempt(self) -> Attempt | None:
        """The attempt flown by itself, outside a circuit."""
        return next((attempt for attempt in self.attempts if attempt.circuit_id is None), None)


def for_lesson(lesson: Lesson, attempts: list[Attempt] | None = None, ruler: Ruler | None = None) -> list[GradeLine]:
    """A line for each manoeuvre of the unit that the type can fly, then for others that were flown.

    `attempts`: those of the lesson in the order flown, and `ruler`, where the caller has them at hand.
    """
    return lines_of(
        lesson,
        attempts_of(lesson) if attempts is None else attempts,
        ruler or ruler_of(lesson),
        list(Grade.objects.filter(lesson=lesson).select_related("manoeuvre")),
        graded_in(lesson.unit_id),
    )


def lines_of(
    lesson: Lesson, attempts: list[Attempt], ruler: Ruler, grades: list[Grade], asked: Sequence[UnitManoeuvre]
) -> list[GradeLine]:
    """The same from what is at hand; `asked`: what the unit grades, in its order."""
    by_manoeuvre: dict[int, list[Attempt]] = defaultdict(list)
    others: dict[int, Manoeuvre] = {}
    for attempt in attempts:
        by_manoeuvre[attempt.manoeuvre_id].append(attempt)
        others[attempt.manoeuvre_id] = attempt.manoeuvre
    given = {row.manoeuvre_id: row for row in grades}
    others |= {pk: row.manoeuvre for pk, row in given.items()}
    kind = lesson.aircraft.type if lesson.aircraft else lesson.enrolment.aircraft_type
    lines = []
    for graded in asked:
        flown = others.pop(graded.manoeuvre_id, None)
        if graded.manoeuvre.tailwheel_only and not kind.tailwheel and flown is None:
            continue
        own, grade = by_manoeuvre[graded.manoeuvre_id], given.get(graded.manoeuvre_id)
        expected = ruler.scale.standing_for(Level(graded.expected))
        lines.append(_line(graded.manoeuvre, own, grade, ruler, expected, graded.compulsory))
    for pk, manoeuvre in others.items():
        lines.append(_line(manoeuvre, by_manoeuvre[pk], given.get(pk), ruler))
    return lines


def attempts_of(lesson: Lesson) -> list[Attempt]:
    """Every attempt of a lesson in the order flown, with faults, criteria and measures at hand. Four queries.

    A tap waits for this: what is published is put in from where it is kept, and not joined or prefetched.
    """
    syllabus = lesson.unit.stage.syllabus_id
    rows = list(Attempt.objects.filter(lesson=lesson).select_related("circuit"))
    by_pk, manoeuvres = {row.pk: row for row in rows}, manoeuvres_by_pk(syllabus)
    for row in rows:
        row.manoeuvre = manoeuvres[row.manoeuvre_id]
        row.its_faults, row.its_criteria, row.its_measures = [], [], []
    faults, criteria = faults_by_pk(syllabus), criteria_by_pk(syllabus)
    for fault in FaultSeen.objects.filter(attempt__in=by_pk):
        fault.fault = faults[fault.fault_id]
        by_pk[fault.attempt_id].its_faults.append(fault)
    for criterion in CriterionSeen.objects.filter(attempt__in=by_pk):
        criterion.criterion = criteria[criterion.criterion_id]
        by_pk[criterion.attempt_id].its_criteria.append(criterion)
    for measure in Measure.objects.filter(attempt__in=by_pk).select_related("target__gate"):
        by_pk[measure.attempt_id].its_measures.append(measure)
    return sorted(rows, key=lambda row: (row.circuit is None, row.circuit.number if row.circuit else 0, row.pk))


def target_today(row: GateTarget, ruler: Ruler) -> Target:
    """The target of a gate in the wind of the day."""
    gust = Decimal(str(ruler.wind.gust_allowance_kt)) if ruler.wind and row.wind_rule == "half_gust" else Decimal(0)
    if gust and row.unit == "km/h":
        gust *= Decimal("1.852")  # exact by definition, see lessons/rules/units.py
    where = row.gate.name[0].lower() + row.gate.name[1:]
    said_in = ruler.units.of(row.unit)
    return Target(f"at {where}", row.quantity, row.value + gust, row.over, row.under, row.unit, said_in)


def deviation_of(measure: Measure, ruler: Ruler) -> Deviation:
    return deviation(target_today(measure.target, ruler), measure.value, measure.read_in)


def step_of(attempt: Attempt, scale: Scale) -> Step | None:
    return scale.step(attempt.tapped) if attempt.tapped else None


def marked(attempt: Attempt, ruler: Ruler) -> Marked:
    counting = [row for row in attempt.its_measures if not ruler.counts_from(attempt.manoeuvre_id, row.target)]
    return Marked(
        step=step_of(attempt, ruler.scale),
        help=Help(attempt.help),
        critical_faults=tuple(s.fault.name for s in attempt.its_faults if s.fault.critical),
        deviations=tuple(deviation_of(measure, ruler) for measure in counting),
        not_done=tuple(row.criterion.text for row in attempt.its_criteria if not row.done),
    )


def _line(
    manoeuvre: Manoeuvre,
    attempts: list[Attempt],
    grade: Grade | None,
    ruler: Ruler,
    expected: Step | None = None,
    compulsory: bool = False,
) -> GradeLine:
    proposal = propose_grade([marked(attempt, ruler) for attempt in attempts], ruler.scale)
    tapped = [attempt for attempt in attempts if attempt.level or attempt.help == Help.TOOK_CONTROL]
    looked_at = tapped[-2:] if ruler.scale.rule is Rule.LAST_TWO else tapped
    return GradeLine(
        manoeuvre=manoeuvre,
        expected=expected,
        compulsory=compulsory,
        proposed=proposal.step,
        explanation=proposal.sentence,
        override=ruler.scale.step(grade.given_step or grade.given) if grade else None,
        help=max((Help(row.help) for row in looked_at), key=lambda word: word.rank, default=Help.NONE),
        tapped=bool(tapped),
        attempts=tuple(attempts),
    )


def said_of(step: Step) -> dict[str, str]:
    """The two columns a step is kept in: its level, and its code where that is another word."""
    return {"level": step.level.value, "step": "" if step.code == step.level.value else step.code}
