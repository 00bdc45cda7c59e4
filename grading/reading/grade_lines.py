"""This module builds the grade lines of a lesson: what is proposed for each manoeuvre, why, and what is given."""

from collections import defaultdict
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure
from grading.rules.counted_level import part_taken_over
from grading.rules.gate_words import gate_phrase
from grading.rules.marking import (
    Deviation,
    MarkedAttempt,
    Proposal,
    Target,
    deviation_from_target,
    propose_attempt,
    propose_grade,
)
from lessons.conditions import lesson_wind
from lessons.models import Criterion, GateTarget, Lesson, Manoeuvre, UnitManoeuvre
from lessons.models.published_values import PublishedManoeuvre, PublishedTarget, PublishedUnitManoeuvre
from lessons.published_content import criteria_by_pk, faults_by_pk, manoeuvres_by_pk, syllabus_criteria, unit_manoeuvres
from lessons.rules.scale import LEARNER_CENTRED, Ending, GradingRule, Help, Level, Part, Scale, Step
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits
from lessons.rules.wind import Wind
from school.current import get_school


@dataclass(frozen=True)
class GradingContext:
    """What the grades of a lesson are judged by: the scale, the wind of the day, the school's units.

    `later`: numbers that do not count yet, (manoeuvre, gate, quantity) to the unit from which they do; `unit`: the
    number of the unit that is flown, None where no criterion is judged.
    """

    wind: Wind | None = None
    scale: Scale = LEARNER_CENTRED
    units: DisplayUnits = KNOTS_AND_FEET
    later: dict[tuple[int, str, str], int] = field(default_factory=dict)
    unit: int | None = None

    def counts_from(self, manoeuvre_id: int, target: GateTarget | PublishedTarget) -> int | None:
        """Return the unit from which a number counts, while that is still to come."""
        return self.later.get((manoeuvre_id, target.gate.code, target.quantity))

    def asks_for(self, criterion: Criterion) -> bool:
        """Return whether an observed criterion counts in the unit that is flown."""
        return self.unit is None or (criterion.from_unit or 0) <= self.unit


def load_grading_context(lesson: Lesson) -> GradingContext:
    """Load what the grades of a lesson are judged by. One query."""
    school = get_school()
    return GradingContext(
        wind=lesson_wind(lesson),
        scale=scale_of(lesson),
        units=DisplayUnits(school.speed_unit, school.length_unit),
        later=numbers_of_later_units(lesson.unit.stage.syllabus_id, lesson.unit.number),
        unit=lesson.unit.number,
    )


def numbers_of_later_units(syllabus_id: int, unit: int) -> dict[tuple[int, str, str], int]:
    """Return the numbers that a syllabus asks for after a unit: (manoeuvre, gate, quantity) to the unit that does.

    The student is not asked for them before, so until then none of them lowers a grade.
    """
    measured = (row for row in syllabus_criteria(syllabus_id) if row.kind == Criterion.Kind.MEASURED)
    begins = {(row.manoeuvre_id, row.gate, row.quantity): row.from_unit or 0 for row in measured}
    return {number: first for number, first in begins.items() if first > unit}


def scale_of(lesson: Lesson) -> Scale:
    return lesson.unit.stage.syllabus.scale.scale


@dataclass(frozen=True)
class GradeLine:
    """One manoeuvre of a lesson. `given` is None where it was never looked at, so that no grade is written."""

    manoeuvre: Manoeuvre | PublishedManoeuvre
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
        """Return the attempt flown by itself, outside a circuit."""
        return next((attempt for attempt in self.attempts if attempt.circuit_id is None), None)


def grade_lines_for(
    lesson: Lesson, attempts: list[Attempt] | None = None, grading_context: GradingContext | None = None
) -> list[GradeLine]:
    """Return a line for each manoeuvre of the unit that the type can fly, then for others that were flown.

    `attempts` (those of the lesson in the order flown) and `grading_context` are read here unless the caller has them.
    """
    return build_grade_lines(
        lesson,
        load_attempts(lesson) if attempts is None else attempts,
        grading_context or load_grading_context(lesson),
        list(Grade.objects.filter(lesson=lesson).select_related("manoeuvre")),
        unit_manoeuvres(lesson.unit_id),
    )


def build_grade_lines(
    lesson: Lesson,
    attempts: list[Attempt],
    grading_context: GradingContext,
    grades: list[Grade],
    asked: Sequence[UnitManoeuvre | PublishedUnitManoeuvre],
) -> list[GradeLine]:
    """Build the lines from rows that were read before; `asked`: what the unit grades, in its order."""
    by_manoeuvre: dict[int, list[Attempt]] = defaultdict(list)
    others: dict[int, Manoeuvre | PublishedManoeuvre] = {}
    for attempt in attempts:
        by_manoeuvre[attempt.manoeuvre_id].append(attempt)
        others[attempt.manoeuvre_id] = attempt.manoeuvre
    given, taken = {row.manoeuvre_id: row for row in grades}, parts_taken_over(attempts)
    others |= {pk: row.manoeuvre for pk, row in given.items()}
    # Before an aircraft is chosen, the type of the enrolment says what can be flown.
    kind = lesson.aircraft.type if lesson.aircraft else lesson.enrolment.aircraft_type
    lines = []
    for graded in asked:
        flown = others.pop(graded.manoeuvre_id, None)
        # Shown where it was flown all the same: what happened is in the record, whatever the type.
        if graded.manoeuvre.tailwheel_only and not kind.tailwheel and flown is None:
            continue
        own, grade = by_manoeuvre[graded.manoeuvre_id], given.get(graded.manoeuvre_id)
        expected = grading_context.scale.lowest_step_for(Level(graded.expected))
        lines.append(_build_line(graded.manoeuvre, own, grade, grading_context, taken, expected, graded.compulsory))
    # What is left was flown or graded without being in the unit: nothing is expected of it.
    for pk, manoeuvre in others.items():
        lines.append(_build_line(manoeuvre, by_manoeuvre[pk], given.get(pk), grading_context, taken))
    return lines


def load_attempts(lesson: Lesson) -> list[Attempt]:
    """Return the attempts of a lesson in the order flown, with faults, criteria and measures. Four queries.

    A tap waits for this, so published rows come from the cache of published content and are not joined or prefetched.
    """
    syllabus = lesson.unit.stage.syllabus_id
    rows = list(Attempt.objects.filter(lesson=lesson).select_related("circuit"))
    if not rows:
        return []
    by_pk, manoeuvres = {row.pk: row for row in rows}, manoeuvres_by_pk(syllabus)
    for row in rows:
        row.manoeuvre = manoeuvres[row.manoeuvre_id].to_model()
        row.preloaded_faults, row.preloaded_criteria, row.preloaded_measures = [], [], []
    faults, criteria = faults_by_pk(syllabus), criteria_by_pk(syllabus)
    for fault in FaultSeen.objects.filter(attempt__lesson=lesson):
        fault.fault = faults[fault.fault_id].to_model()
        by_pk[fault.attempt_id].preloaded_faults.append(fault)
    for criterion in CriterionSeen.objects.filter(attempt__lesson=lesson):
        criterion.criterion = criteria[criterion.criterion_id].to_model()
        by_pk[criterion.attempt_id].preloaded_criteria.append(criterion)
    for measure in Measure.objects.filter(attempt__lesson=lesson).select_related("target__gate"):
        by_pk[measure.attempt_id].preloaded_measures.append(measure)
    return sorted(rows, key=lambda row: (row.circuit is None, row.circuit.number if row.circuit else 0, row.pk))


def target_in_wind(row: GateTarget | PublishedTarget, grading_context: GradingContext) -> Target:
    """Return the target of a gate in the wind of the day."""
    gust = (
        Decimal(str(grading_context.wind.gust_allowance_kt))
        if grading_context.wind and row.wind_rule == "half_gust"
        else Decimal(0)
    )
    if gust and row.unit == "km/h":
        gust *= Decimal("1.852")  # exact by definition, see lessons/rules/units.py
    display_unit = grading_context.units.unit_for(row.unit)
    return Target(
        gate_phrase(row.gate.name, row.gate.leg),
        row.quantity,
        row.value + gust,
        row.over,
        row.under,
        row.unit,
        display_unit,
    )


def measured_deviation(measure: Measure, grading_context: GradingContext) -> Deviation:
    return deviation_from_target(target_in_wind(measure.target, grading_context), measure.value, measure.effective_unit)


def tapped_step(attempt: Attempt, scale: Scale) -> Step | None:
    return scale.step(attempt.tapped) if attempt.tapped else None


def effective_help(attempt: Attempt, taken: Container[int]) -> Help:
    """Return the help of an attempt; `taken`: those whose circuit ended with control taken (`parts_taken_over`)."""
    return Help.TOOK_CONTROL if attempt.pk in taken else Help(attempt.help)


def count_attempt(attempt: Attempt, grading_context: GradingContext, taken: Container[int]) -> Proposal:
    """Return the step as which an attempt counts, with its reason in a sentence."""
    return propose_attempt(to_marked_attempt(attempt, grading_context, taken), grading_context.scale)


def to_marked_attempt(attempt: Attempt, grading_context: GradingContext, taken: Container[int] = ()) -> MarkedAttempt:
    counting = [
        row for row in attempt.preloaded_measures if not grading_context.counts_from(attempt.manoeuvre_id, row.target)
    ]
    return MarkedAttempt(
        step=tapped_step(attempt, grading_context.scale),
        help=effective_help(attempt, taken),
        critical_faults=tuple(s.fault.name for s in attempt.preloaded_faults if s.fault.critical),
        deviations=tuple(measured_deviation(measure, grading_context) for measure in counting),
        not_done=tuple(
            row.criterion.text
            for row in attempt.preloaded_criteria
            if not row.done and grading_context.asks_for(row.criterion)
        ),
        kept=attempt.kept,
    )


def parts_taken_over(attempts: Iterable[Attempt]) -> set[int]:
    """Return the keys of the attempts that were taken over by the ending of their circuit alone."""
    by_circuit: dict[int, list[Attempt]] = defaultdict(list)
    for attempt in attempts:
        if attempt.circuit_id is not None:
            by_circuit[attempt.circuit_id].append(attempt)
    taken = set()
    for rows in by_circuit.values():
        assert rows[0].circuit is not None
        helps = {Part(row.part): Help(row.help) for row in rows}
        part = part_taken_over(Ending(rows[0].circuit.ending), helps)
        taken |= {row.pk for row in rows if row.part == part}
    return taken


def _build_line(
    manoeuvre: Manoeuvre | PublishedManoeuvre,
    attempts: list[Attempt],
    grade: Grade | None,
    grading_context: GradingContext,
    taken: set[int],
    expected: Step | None = None,
    compulsory: bool = False,
) -> GradeLine:
    # What the instructor flew to show it is no attempt of the student.
    attempts = [attempt for attempt in attempts if not (attempt.circuit and attempt.circuit.shown)]
    proposal = propose_grade(
        [to_marked_attempt(attempt, grading_context, taken) for attempt in attempts],
        grading_context.scale,
    )
    # Taking control counts as seen without a level: the most serious outcome must not disappear because one key was
    # left out.
    tapped = [attempt for attempt in attempts if attempt.level or effective_help(attempt, taken) is Help.TOOK_CONTROL]
    # The help of a line is that of the attempts its proposal counts: under this rule the last two.
    looked_at = tapped[-2:] if grading_context.scale.rule is GradingRule.LAST_TWO else tapped
    return GradeLine(
        manoeuvre=manoeuvre,
        expected=expected,
        compulsory=compulsory,
        proposed=proposal.step,
        explanation=proposal.sentence,
        override=grading_context.scale.step(grade.given_step or grade.given) if grade else None,
        help=max((effective_help(row, taken) for row in looked_at), key=lambda word: word.rank, default=Help.NONE),
        tapped=bool(tapped),
        attempts=tuple(attempts),
    )


def step_columns(step: Step) -> dict[str, str]:
    """Return the two columns that store a step: its level, and its code where that is another word."""
    # Empty where both are the same word, so that most rows say it once.
    return {"level": step.level.value, "step": "" if step.code == step.level.value else step.code}
