"""Luck apart from skill: strength of evidence, consistency at the gates, learning curves, forecast, relapse."""

from dataclasses import dataclass
from fractions import Fraction

from grading.reading.student_summary import PARTS, StudentRow
from grading.rules.forecast import Forecast, learning_curve, next_probability, to_first_run
from grading.rules.readiness.checks.numbers import bias_words, of_gate
from grading.rules.readiness.checks.rows import PARTS as PICK
from grading.rules.readiness.facts import Circuit, Lesson, Number
from grading.rules.readiness.statistics import LEAST_VALUES, MOST_VALUES, Consistency, wilson
from grading.rules.readiness.wording import counted
from lessons.rules.units import Units, shown
from school import marks

LAST = 20
LEAST_CIRCUITS = 3
MOST_GATES = 6


@dataclass(frozen=True)
class PartEvidence:
    """One part of the circuit: its outcomes in the order flown, and what they say."""

    part: str
    outcomes: tuple[bool, ...]
    chance: float
    slipped: tuple[Lesson, Circuit] | None

    @property
    def strength(self) -> str:
        last = self.outcomes[-LAST:]
        if not last:
            return "Not flown yet."
        low, high = wilson(sum(last), len(last))
        many = counted(len(last), "attempt")
        return (
            f"{sum(last)} of the last {many} to standard. From so many the true share may lie anywhere"
            f" from {low:.0%} to {high:.0%} (95 % interval)."
        )

    @property
    def next_words(self) -> str:
        return f"{self.chance:.0%} likely to standard next time" if self.outcomes else ""

    @property
    def slip_words(self) -> str:
        if self.slipped is None:
            return ""
        lesson, circuit = self.slipped
        return f"At standard before and no longer: it shows in lesson {lesson.number}, circuit {circuit.number}."

    @property
    def drawing(self) -> str:
        if len(self.outcomes) < 2:
            return ""
        many = counted(len(self.outcomes), "attempt")
        label = f"{self.part.capitalize()}: the chance to standard over {many}, {self.next_words}"
        return marks.learning(self.outcomes, learning_curve(self.outcomes), label)


@dataclass(frozen=True)
class GateEvidence:
    """The last numbers at one gate."""

    number: Number
    amounts: tuple[float, ...]
    found: Consistency | None
    units: Units

    @property
    def name(self) -> str:
        return f"{self.number.gate.replace('-', ' ').capitalize()}, {self.number.quantity}"

    @property
    def words(self) -> str:
        count = len(self.amounts)
        if self.found is None or count < LEAST_VALUES:
            return f"{counted(count, 'number')} noted: fewer than {LEAST_VALUES} say nothing yet."
        scatter = shown(Fraction(self.found.spread), self.number.unit, self.units)
        bias = bias_words(self.found, self.number)
        return (
            f"{bias[0].upper()}{bias[1:]}, scatter {scatter:f} {self.units.of(self.number.unit)}:"
            f" the next one is {self.found.probability:.0%} likely inside."
        )

    @property
    def drawing(self) -> str:
        likely = self.found.likely if self.found and len(self.amounts) >= LEAST_VALUES else None
        return marks.spread(self.amounts, self.number.over, self.number.under, likely, f"{self.name}: {self.words}")


@dataclass(frozen=True)
class Evidence:
    parts: list[PartEvidence]
    gates: list[GateEvidence]
    forecast: Forecast | None
    row_needed: int

    @property
    def forecast_words(self) -> str:
        if self.forecast is None:
            return "Too few circuits for a forecast."
        if self.forecast.middle == 0:
            return "Takeoff, approach and landing have their rows already."
        return (
            f"Until takeoff, approach and landing are each {self.row_needed} in a row at one time:"
            f" {self.forecast.words}."
            " Eight times in ten it lies in that span. It is no date and no promise."
        )

    @property
    def slipped(self) -> list[PartEvidence]:
        return [part for part in self.parts if part.slipped]


def evidence_of(row: StudentRow) -> Evidence:
    """Everything from the history of the row, without a query."""
    parts = [_part(row, part) for part in PARTS]
    flown = {part.part: part.outcomes for part in parts}
    enough = all(len(outcomes) >= LEAST_CIRCUITS for outcomes in flown.values())
    forecast = to_first_run(flown, row.history.row_needed, row.rows) if enough else None
    gates = [
        GateEvidence(noted[-1][1], tuple(n.amount for _, n in noted[-MOST_VALUES:]), of_gate(noted), row.units)
        for noted in row.history.numbers().values()
    ]
    return Evidence(
        parts, sorted(gates, key=lambda gate: -len(gate.amounts))[:MOST_GATES], forecast, row.history.row_needed
    )


def _part(row: StudentRow, part: str) -> PartEvidence:
    flown = [seen for seen in row.history.part(PICK[part]) if seen.attempt.observed]
    outcomes = tuple(row.history.to_standard(seen.attempt) for seen in flown)
    slip = row.slips.get(part)
    where = (slip.lesson, slip.circuit) if slip and slip.circuit else None
    return PartEvidence(part, outcomes, next_probability(outcomes), where)
