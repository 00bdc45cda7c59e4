"""Compute exactly how likely a rule shows a student as ready who flies one part at a constant chance. Pure.

The states are what a rule remembers: the length of the row, or the last n outcomes. A rule is asked at a lesson's end
only, because only signed lessons count; a student shown as met once has been shown, whatever comes after.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from grading.rules.readiness.success_rules import Row, Share, SuccessRule

FloatArray = NDArray[np.float64]
# The states of the last n outcomes are 2^n: sixteen take a tenth of a second, and each more doubles it.
MOST_LAST = 16


@dataclass(frozen=True, slots=True)
class ShownByThen:
    """Give the chance of having been shown as met by the end of each lesson.

    ends: circuits flown at each lesson's end; chances: from 0 to 1, never falling; error: one standard
    error of the least certain of them, 0 where computed exactly.
    """

    ends: tuple[int, ...]
    chances: tuple[float, ...]
    error: float = 0.0

    def within(self, circuits: int) -> float:
        """Return the chance by the last lesson's end within so many circuits."""
        return max((chance for end, chance in zip(self.ends, self.chances, strict=True) if end <= circuits), default=0)

    @property
    def median(self) -> int | None:
        """Return the circuits by which half are shown; None where that lies beyond the last lesson."""
        return next((end for end, chance in zip(self.ends, self.chances, strict=True) if chance >= 0.5), None)


def plan_lessons(circuits: int, per_lesson: int) -> tuple[int, ...]:
    """Return lessons of so many circuits each, as many whole ones as fit."""
    if per_lesson < 1:
        raise ValueError("a lesson with circuits has at least one")
    return (per_lesson,) * (circuits // per_lesson)


def shown_by_then(rule: SuccessRule, chance: float, lessons: Sequence[int]) -> ShownByThen:
    """Return how likely one part is shown as met by the end of each lesson.

    `chance`: that an attempt is to standard, the same for each and independent; `lessons`: circuits of each lesson, one
    attempt a circuit. ValueError for a chance outside 0 to 1 and for a rule with more states than can be held.
    """
    if not 0 <= chance <= 1:
        raise ValueError(f"{chance} is not a chance")
    if isinstance(rule, Row):
        lost = _lost_at_ends_of_row(rule, chance, lessons)
    elif rule.last <= MOST_LAST:
        lost = _lost_at_ends_of_share(rule, chance, lessons)
    else:
        raise ValueError(f"the last {rule.last} outcomes have more states than {MOST_LAST} of them")
    return ShownByThen(tuple(accumulate(lessons)), tuple(min(total, 1.0) for total in accumulate(lost)))


def longest_needed(rule: Row, lessons: Sequence[int], lesson: int) -> int:
    """Return how long the row must be at the end of a lesson (from 0) to be long enough and to span enough lessons."""
    if lesson + 1 < rule.lessons:
        return sum(lessons) + 1  # not enough lessons yet: longer than any row
    before = lessons[lesson - rule.lessons + 2 : lesson + 1]
    return max(rule.needed, sum(before) + 1)


def _lost_at_ends_of_row(rule: Row, chance: float, lessons: Sequence[int]) -> Iterator[float]:
    """Yield the chance of being shown as met for the first time at each lesson's end."""
    size = sum(lessons) + 1
    state: FloatArray = np.zeros(size)  # by the length of the row
    state[0] = 1.0
    for lesson, circuits in enumerate(lessons):
        for _ in range(circuits):
            missed = state.sum() * (1 - chance)
            state[1:] = state[:-1] * chance
            state[0] = missed
        least = longest_needed(rule, lessons, lesson)
        yield float(state[least:].sum())
        state[least:] = 0.0


def _lost_at_ends_of_share(rule: Share, chance: float, lessons: Sequence[int]) -> Iterator[float]:
    """Yield the chance of being shown as met for the first time at each lesson's end."""
    half = 2 ** (rule.last - 1)
    # By the last n outcomes as bits, the newest lowest; before the first circuit all are misses.
    state: FloatArray = np.zeros(2 * half)
    state[0] = 1.0
    flown = 0
    for lesson, circuits in enumerate(lessons):
        for _ in range(circuits):
            # The oldest outcome is forgotten, the others move up, and the new one takes the lowest place.
            moved = state[:half] + state[half:]
            state[0::2], state[1::2] = moved * (1 - chance), moved * chance
        flown += circuits
        if flown < rule.last:
            yield 0.0
            continue
        met = _patterns_met(rule, tuple(lessons[: lesson + 1]))
        yield float(state[met].sum())
        state[met] = 0.0


def _patterns_met(rule: Share, lessons: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return which patterns of the last n outcomes meet the rule at the end of the last of these lessons."""
    patterns = np.arange(2**rule.last, dtype=np.int64)
    good = np.zeros(len(patterns), dtype=np.int64)
    spanned = np.zeros(len(patterns), dtype=np.int64)
    place = 0
    for circuits in reversed(lessons):
        of_lesson = patterns >> place & ((1 << min(circuits, rule.last - place)) - 1)
        good += np.bitwise_count(of_lesson)
        spanned += of_lesson > 0
        place += circuits
        if place >= rule.last:
            break
    met: NDArray[np.bool_] = (good >= rule.good) & (spanned >= rule.lessons) & (patterns & 1 == 1)
    return met
