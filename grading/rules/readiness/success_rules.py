"""Say when the attempts of one part of the circuit are enough: a share of the last ones, or a row without a miss. Pure.

An outcome is a pair of the number of its lesson and whether it was to standard, oldest first. What nobody observed is
no outcome.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from grading.rules.readiness.standard import RequirementSpec

Outcomes = Sequence[tuple[int, bool]]


@dataclass(frozen=True, slots=True)
class Share:
    """Ask for at least `good` of the `last` attempts, the newest among the good, over so many `lessons`.

    All of the `last` must have been flown: nine good ones and nothing else show no nine of ten.
    """

    good: int
    last: int
    lessons: int

    def window(self, outcomes: Outcomes) -> Outcomes:
        """Return the attempts that are judged: the last ones, fewer where fewer were flown."""
        return outcomes[-self.last :]

    def done(self, outcomes: Outcomes) -> int:
        return sum(good for _, good in self.window(outcomes))

    def is_met(self, outcomes: Outcomes) -> bool:
        window = self.window(outcomes)
        if len(window) < self.last or not window[-1][1]:
            return False
        over = {lesson for lesson, good in window if good}
        return self.done(outcomes) >= self.good and len(over) >= self.lessons

    def fewest_more(self, outcomes: Outcomes) -> int:
        """Return the fewest attempts, all good, after which the rule holds; 0 where it holds.

        They are taken to be flown over lessons enough. The ten slide on with each attempt, so it may be more than
        the difference of two counts.
        """
        window = [good for _, good in self.window(outcomes)]
        if self.is_met(outcomes):
            return 0
        for more in range(1, self.last + 1):
            after = [*window, *[True] * more][-self.last :]
            if len(after) == self.last and sum(after) >= self.good:
                return more
        raise AssertionError("as many good attempts as are looked at always meet the rule")


@dataclass(frozen=True, slots=True)
class Row:
    """Ask for the newest `needed` attempts without a miss, the whole row over so many `lessons`."""

    needed: int
    lessons: int

    def window(self, outcomes: Outcomes) -> Outcomes:
        """Return the attempts that are judged: the unbroken row that ends with the newest."""
        length = 0
        for _, good in reversed(outcomes):
            if not good:
                break
            length += 1
        return outcomes[len(outcomes) - length :]

    def done(self, outcomes: Outcomes) -> int:
        return len(self.window(outcomes))

    def is_met(self, outcomes: Outcomes) -> bool:
        row = self.window(outcomes)
        return len(row) >= self.needed and len({lesson for lesson, _ in row}) >= self.lessons

    def fewest_more(self, outcomes: Outcomes) -> int:
        """Return the fewest attempts, all good, after which the rule holds, flown over lessons enough."""
        if self.is_met(outcomes):
            return 0
        return max(self.needed - self.done(outcomes), 1)


SuccessRule = Share | Row

# Where a standard says nothing of a part that a page shows; no requirement rests on it.
COMMON_RULE = Share(good=9, last=10, lessons=2)


def rule_of(spec: RequirementSpec) -> SuccessRule | None:
    """Return the rule that a requirement sets for a part of the circuit, None for a requirement of another kind."""
    if spec.check == "most_of_last":
        return Share(spec.number("good"), spec.number("last"), spec.number("lessons"))
    if spec.check == "in_a_row":
        return Row(spec.number("needed"), spec.number("lessons"))
    return None
