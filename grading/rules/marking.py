"""Propose a level from what was tapped and measured, with its reason in a sentence. Pure.

The rules are the school's; no published standard ties a tolerance to a first solo:
* the step tapped is capped by `grading/rules/counted_level.py`, the same rule by which readiness counts;
* how far outside, and how often, is said but does not cap further: the level of what was unsafe is
  tapped by the one who saw it;
* the grade of a lesson is the lower of its last two observed attempts: recent consistency counts, not
  the best and not the mean. A scale can say the weakest of all of them instead. Not observed never counts.
The proposal only ever lowers what was tapped, and a worse value, more help or another fault never
raises it. The instructor accepts or changes it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from grading.rules.counted_level import TAKEN_OVER, highest_level
from grading.rules.gate_words import SIDES
from grading.rules.proposal_sentences import say
from grading.rules.said import Said, said
from lessons.rules.scale import LEARNER_CENTRED, NOT_OBSERVED, GradingRule, Help, Level, Scale, Step
from lessons.rules.units import convert

# Two of the same kind show more than one lucky attempt, and recent ones more than the mean of a lesson.
ATTEMPTS_COUNTED = 2


class ToleranceBand(StrEnum):
    INSIDE = "inside"
    BEYOND = "beyond"
    FAR_BEYOND = "far_beyond"

    @property
    def rank(self) -> int:
        return list(ToleranceBand).index(self)


@dataclass(frozen=True)
class Target:
    """Describe a quantity at a gate. `over` and `under` are the tolerances on either side, not negative.

    `display_unit`: the unit that people read, where that is not the unit in which it is stored.
    """

    gate: str
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str
    display_unit: str = ""

    def __post_init__(self) -> None:
        if self.quantity not in SIDES:
            raise ValueError(f"{self.quantity} is not a quantity that is marked")
        # A negative tolerance would put the target itself outside.
        if self.over < 0 or self.under < 0:
            raise ValueError(f"{self.quantity} {self.gate}: a tolerance is not negative")


@dataclass(frozen=True)
class Deviation:
    """Give how far a measured value lies from its target, exactly, in the unit of the target."""

    target: Target
    amount: Fraction

    @property
    def tolerance(self) -> Fraction:
        """Return the tolerance of the side the value lies on. A tolerance of zero makes that side a limit."""
        return Fraction(self.target.over if self.amount > 0 else self.target.under)

    @property
    def place(self) -> ToleranceBand:
        """Return the band: inside up to and on the tolerance, beyond up to and on twice that, far beyond past it.

        A touchdown short of the point, a side without tolerance, is therefore far beyond by any amount.
        """
        if abs(self.amount) <= self.tolerance:
            return ToleranceBand.INSIDE
        return ToleranceBand.BEYOND if abs(self.amount) <= 2 * self.tolerance else ToleranceBand.FAR_BEYOND

    def said(self, amount: Fraction) -> Fraction:
        """Return an amount, given in the unit of the target, in the unit that people read."""
        return convert(amount, self.target.unit, self.target.display_unit or self.target.unit)

    @property
    def words(self) -> str:
        """Return words as 'speed on final 9 kt slow, outside, within twice the tolerance'."""
        return say(self.what)

    @property
    def what(self) -> Said:
        """Return what is said: the number is rounded away from the target to a tenth, never to contradict its place."""
        where = {"quantity": self.target.quantity, "gate": self.target.gate}
        if self.amount == 0:
            return said("on_target", **where)
        unit = self.target.display_unit or self.target.unit
        # To the nearest tenth, a deviation of 5.04 kt with a tolerance of 5 would read as “5.0 kt, outside”.
        amount = Decimal(math.ceil(self.said(abs(self.amount)) * 10)) / 10
        offset = (amount, unit, self.target.quantity, self.amount > 0)
        return said("no_tolerance" if self.tolerance == 0 else self.place.value, offset=offset, **where)


def deviation_from_target(target: Target, value: Decimal, unit: str | None = None) -> Deviation:
    """Return the deviation of a value in the unit of the target or another of its kind (ValueError for any other)."""
    return Deviation(target, convert(value, unit or target.unit, target.unit) - Fraction(target.value))


@dataclass(frozen=True)
class MarkedAttempt:
    """Describe one attempt as it was recorded. `step` None: not tapped. `not_done`: criteria that were not met.

    kept: why the instructor lets the tapped step stand against a number or a criterion; empty where not.
    """

    step: Step | None
    help: Help = Help.NONE
    critical_faults: tuple[str, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    not_done: tuple[str, ...] = ()
    kept: str = ""

    @property
    def outside(self) -> list[Deviation]:
        """Return the numbers outside their tolerance, the worst first: a reader may stop after the first."""
        outside = (row for row in self.deviations if row.place is not ToleranceBand.INSIDE)
        return sorted(outside, key=lambda row: -row.place.rank)

    def highest(self, *, kept: bool) -> Level:
        """Return the highest level that it may count as, with or without the instructor's word for it."""
        return highest_level(
            self.help,
            critical=bool(self.critical_faults),
            not_done=bool(self.not_done),
            outside=bool(self.outside),
            kept=kept,
        )

    @property
    def counts(self) -> bool:
        """Return whether it was observed, or taken over by the instructor, which is evidence without a tap."""
        return (self.step is not None and self.step.level.observed) or self.help is Help.TOOK_CONTROL


@dataclass(frozen=True)
class Proposal:
    """A step with what is said of it, a key of proposal_sentences.py; it is worded when it is shown or sealed."""

    step: Step
    what: Said

    @property
    def level(self) -> Level:
        return self.step.level

    @property
    def sentence(self) -> str:
        return say(self.what)


def propose_attempt(marked: MarkedAttempt, scale: Scale = LEARNER_CENTRED) -> Proposal:
    """Return the step as which an attempt counts, and why."""
    if not marked.counts:
        return Proposal(NOT_OBSERVED, said("not_observed"))
    if marked.step is None or not marked.step.level.observed:
        # Whatever the scale is called, the instructor flew.
        step = scale.cap(scale.steps[-1], TAKEN_OVER)
        return Proposal(step, said("control_taken", step=step.label))
    tapped = marked.step
    step = scale.cap(tapped, marked.highest(kept=bool(marked.kept)))
    if step != tapped:
        return Proposal(step, said("lowered", step=step.label, reasons=_reasons(marked)))
    if marked.kept and scale.cap(tapped, marked.highest(kept=False)) != tapped:
        return Proposal(step, said("kept", step=step.label, kept=marked.kept, reasons=_reasons(marked)))
    return Proposal(tapped, said("as_tapped", step=tapped.label))


def propose_grade(attempts: Sequence[MarkedAttempt], scale: Scale = LEARNER_CENTRED) -> Proposal:
    """Return the lowest of the attempts that count by the scale's rule; attempts are in the order flown."""
    counted = [marked for marked in attempts if marked.counts]
    if not counted:
        return Proposal(NOT_OBSERVED, said("not_observed_in_lesson"))
    last_two = scale.rule is GradingRule.LAST_TWO
    count = [propose_attempt(marked, scale) for marked in (counted[-ATTEMPTS_COUNTED:] if last_two else counted)]
    # The later of equal ones explains better: it is what the instructor remembers.
    lowest = min(reversed(count), key=lambda proposal: scale.rank(proposal.step))
    if len(count) == 1:
        return lowest
    which = "lower_of_two" if last_two else "weakest"
    return Proposal(lowest.step, said(f"{lowest.what.key}_{which}", **lowest.what.values, attempts=len(count)))


def _reasons(marked: MarkedAttempt) -> tuple[Said, ...]:
    """Return why the attempt counts as less than was tapped, or would without the instructor's word for it."""
    reasons = [said(marked.help.value)] if marked.help is not Help.NONE else []
    reasons += [said("critical_fault", fault=name) for name in marked.critical_faults]
    reasons += [said("not_done", criterion=text) for text in marked.not_done]
    return (*reasons, *(row.what for row in marked.outside))
