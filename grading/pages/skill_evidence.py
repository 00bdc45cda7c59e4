"""This module separates luck from skill: strength of evidence, consistency at gates, learning, forecast, relapse."""

from dataclasses import dataclass
from fractions import Fraction

from grading.reading.student_summary import StudentSummary
from grading.rules.forecast import Forecast, PartHistory, forecast_circuits, learning_curve, next_probability
from grading.rules.readiness.checks.numbers import bias_of, predict_number
from grading.rules.readiness.facts import CircuitFact, GateNumberFact, LessonFact
from grading.rules.readiness.sentences import say_first
from grading.rules.readiness.statistics import Consistency, wilson_interval
from grading.rules.readiness.wording import count_noun
from lessons.rules.units import DisplayUnits, convert_for_display
from school import marks

RECENT_ATTEMPTS = 20
MIN_CIRCUITS = 3
MAX_GATES = 6


@dataclass(frozen=True)
class PartEvidence:
    """One part of the circuit: its attempts in the order flown, and what they say."""

    part: str
    flown: PartHistory
    chance: float
    slipped: tuple[LessonFact, CircuitFact] | None

    @property
    def outcomes(self) -> tuple[bool, ...]:
        return self.flown.outcomes

    @property
    def strength(self) -> str:
        last = self.outcomes[-RECENT_ATTEMPTS:]
        if not last:
            return "Not flown yet."
        # Always with its interval: the count alone would pass a few lucky attempts off as skill.
        low, high = wilson_interval(sum(last), len(last))
        many = count_noun(len(last), "attempt")
        return (
            f"{sum(last)} of the last {many} to standard. With this few attempts the true rate could be"
            f" {low * 100:.0f} to {high * 100:.0f} % (95 % interval)."
        )

    @property
    def next_words(self) -> str:
        return f"{self.chance * 100:.0f} % likely to standard next time" if self.outcomes else ""

    @property
    def slip_words(self) -> str:
        if self.slipped is None:
            return ""
        lesson, circuit = self.slipped
        return f"Was to standard; slipped in lesson {lesson.number}, circuit {circuit.number}."

    @property
    def drawing(self) -> str:
        if len(self.outcomes) < 2:
            return ""
        many = count_noun(len(self.outcomes), "attempt")
        label = f"{self.part.capitalize()}: the chance to standard over {many}, {self.next_words}"
        return marks.learning_curve(self.outcomes, learning_curve(self.flown), label)


@dataclass(frozen=True)
class GateEvidence:
    """The last numbers at one gate. `least`: with fewer numbers nothing is said of it."""

    number: GateNumberFact
    amounts: tuple[float, ...]
    consistency: Consistency | None
    units: DisplayUnits
    least: int

    @property
    def name(self) -> str:
        return f"{self.number.gate.replace('-', ' ').capitalize()}, {self.number.quantity}"

    @property
    def words(self) -> str:
        count = len(self.amounts)
        # Numbers are noted now and then: a gate with few of them says nothing for or against the student.
        if self.consistency is None or count < self.least:
            return f"{count_noun(count, 'number')} noted: {self.least} are needed before anything is said."
        scatter = convert_for_display(Fraction(self.consistency.spread), self.number.unit, self.units)
        bias = say_first(bias_of(self.consistency, self.number))
        # Numbers of one day say how that day was.
        when = "in the next lesson" if self.consistency.lessons > 1 else "in the same lesson; another day may differ"
        return (
            f"{bias}, scatter {scatter:f} {self.units.unit_for(self.number.unit)}:"
            f" the next one is {self.consistency.probability * 100:.0f} % likely to be inside {when}."
        )

    @property
    def drawing(self) -> str:
        likely = self.consistency.likely if self.consistency and len(self.amounts) >= self.least else None
        return marks.deviation_spread(
            self.amounts, self.number.over, self.number.under, likely, f"{self.name}: {self.words}"
        )


@dataclass(frozen=True)
class SkillEvidence:
    parts: list[PartEvidence]
    gates: list[GateEvidence]
    forecast: Forecast | None

    @property
    def forecast_words(self) -> str:
        if self.forecast is None:
            return "Too few circuits for a forecast."
        if self.forecast.middle == 0:
            return "All parts of the circuit meet the standard."
        if self.forecast.stalled:
            return f"{self._stalled_words} No forecast is possible."
        words = self.forecast.words
        return (
            f"{words[0].upper()}{words[1:]} until all parts would meet the standard at the end of a lesson."
            " The range covers 80 %. This is only an estimate."
        )

    @property
    def _stalled_words(self) -> str:
        assert self.forecast is not None
        stalled = zip(self.parts, self.forecast.without_progress, strict=True)
        return " ".join(
            f"{part.part.capitalize()}: no progress in the last {count_noun(many, 'circuit')}."
            for part, many in stalled
            if many
        )

    @property
    def slipped(self) -> list[PartEvidence]:
        return [part for part in self.parts if part.slipped]


def build_skill_evidence(row: StudentSummary) -> SkillEvidence:
    """Build all the evidence from the history of the row, without a query."""
    parts = [_part_evidence(row, part) for part in row.history.rules]
    enough = all(len(part.outcomes) >= MIN_CIRCUITS for part in parts)
    # The forecast is shown only; no verdict reads it.
    rules = [row.history.rules[part.part] for part in parts]
    forecast = forecast_circuits([part.flown for part in parts], rules) if enough else None
    policy = row.standard.policy
    gates = [
        GateEvidence(
            noted[-1][1],
            tuple(n.amount for _, n in noted[-policy.gate_numbers_most :]),
            predict_number(noted, policy.gate_numbers_most),
            row.units,
            policy.gate_numbers_least,
        )
        for noted in row.history.numbers().values()
    ]
    # The page shows a few gates: those with most numbers say most.
    return SkillEvidence(parts, sorted(gates, key=lambda gate: -len(gate.amounts))[:MAX_GATES], forecast)


def _part_evidence(row: StudentSummary, part: str) -> PartEvidence:
    judged = row.history.outcomes(part)
    flown = PartHistory(
        tuple(good for _, good in judged),
        tuple(attempt.lesson.number for attempt, _ in judged),
        tuple(attempt.lesson.on.toordinal() for attempt, _ in judged),
    )
    slip = row.slips.get(part)
    where = (slip.lesson, slip.circuit) if slip and slip.circuit else None
    return PartEvidence(part, flown, next_probability(flown), where)
