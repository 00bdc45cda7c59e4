"""Compute how likely the next number is inside, how strong evidence is, and whether a student slipped back. Pure.

The t distribution and the normal quantile come from scipy, whose module for them is loaded on first use.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import scipy


@dataclass(frozen=True, slots=True)
class Consistency:
    """Summarise the deviations from a target at one gate; `low` and `high` bound where the next should lie.

    Amounts in the unit of the target, `low` zero or less, `high` zero or more. The next one, less the mean, follows
    `scale` times t of `freedom`. lessons: in how many the numbers were noted, 0 where they were not told apart.
    """

    count: int
    mean: float
    spread: float
    low: float
    high: float
    scale: float
    freedom: float
    lessons: int = 0

    @property
    def probability(self) -> float:
        """Return the chance that the next value lies within `low` and `high`."""
        below = scipy.special.stdtr
        high, low = (self.high - self.mean) / self.scale, (self.low - self.mean) / self.scale
        # The difference of two rounded values may step over 0 or 1 by its last digit.
        return min(max(float(below(self.freedom, high) - below(self.freedom, low)), 0.0), 1.0)

    @property
    def likely(self) -> tuple[float, float]:
        """Return the interval in which 80 % of the next values are expected."""
        half = _t_quantile(0.9, self.freedom) * self.scale
        return self.mean - half, self.mean + half


def compute_consistency(
    deviations: Sequence[float], low: float, high: float, resolution: float, most: int
) -> Consistency | None:
    """Return the chance that the next deviation lies within [low, high], by the last `most`; None for fewer than two.

    With mean m and standard deviation s of n values the next one follows m + s √(1 + 1/n) t(n − 1): the usual
    prediction interval for a normal sample. s is never below resolution / √12, the spread of rounding itself.
    """
    # Only the newest, because a beginner's first numbers say nothing about how the student flies now.
    last = deviations[-most:]
    if len(last) < 2:
        return None
    count, mean = len(last), math.fsum(last) / len(last)
    spread = math.sqrt(math.fsum((value - mean) ** 2 for value in last) / (count - 1))
    spread = max(spread, resolution / math.sqrt(12))
    return Consistency(count, mean, spread, low, high, spread * math.sqrt(1 + 1 / count), count - 1)


def allow_for_lessons(found: Consistency, by_lesson: Sequence[Sequence[float]]) -> Consistency:
    """Return the same numbers with the next one expected in another lesson. `by_lesson`: they, lesson by lesson.

    A day shifts all numbers of its lesson, so ten of them tell less of the next lesson than ten by themselves: the
    variance between lessons is estimated beside that within them (one-way analysis of variance with unequal groups,
    degrees of freedom by Satterthwaite; textbook formulas, from memory). Numbers of one lesson tell nothing of another,
    and stay as they are.
    """
    count, groups = found.count, len(by_lesson)
    lone = replace(found, lessons=groups)
    if groups == 1 or groups == count:
        return lone
    means = [math.fsum(rows) / len(rows) for rows in by_lesson]
    pairs = list(zip(by_lesson, means, strict=True))
    between = math.fsum(len(rows) * (mean - found.mean) ** 2 for rows, mean in pairs) / (groups - 1)
    within = math.fsum((value - mean) ** 2 for rows, mean in pairs for value in rows) / (count - groups)
    if between <= within:
        return lone
    squares = sum(len(rows) ** 2 for rows in by_lesson)
    usual_size = (count - squares / count) / (groups - 1)
    # The next number, less the mean of these: one more lesson and one more number beside what the mean itself lacks.
    of_between = (1 + squares / count**2) / usual_size
    of_within = 1 + 1 / count - of_between
    variance = of_between * between + of_within * within
    known = (of_between * between) ** 2 / (groups - 1) + (of_within * within) ** 2 / (count - groups)
    return replace(lone, scale=max(math.sqrt(variance), found.scale), freedom=variance**2 / known)


def _t_quantile(share: float, freedom: float) -> float:
    """Return a quantile of the t distribution by bisection: a drawing needs it to a thousandth."""
    # 400 lies above the 90 % quantile for any freedom, and forty halvings leave far less than a pixel.
    low, high = 0.0, 400.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if scipy.special.stdtr(freedom, middle) < share else (low, middle)
    return (low + high) / 2


def wilson_interval(good: int, count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the interval of a share by Wilson's score, without continuity correction; 0 to 1 for no attempt."""
    if not 0 <= good <= count:
        raise ValueError(f"{good} of {count} is not a share")
    if count == 0:
        return 0.0, 1.0
    z = float(scipy.special.ndtri(0.5 + confidence / 2))
    share, square = good / count, z * z
    middle = (share + square / (2 * count)) / (1 + square / count)
    half = z * math.sqrt(share * (1 - share) / count + square / (4 * count**2)) / (1 + square / count)
    return max(middle - half, 0.0), min(middle + half, 1.0)


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Watch for failures with a cumulative sum: down by `step` at a success, up by 1 − step at a failure."""

    step: float
    limit: float


def design_cusum(acceptable: float, unacceptable: float, error: float = 0.1) -> CusumChart:
    """Return Wald's sequential test of two failure rates, with both errors alike, as a chart."""
    if not 0 < acceptable < unacceptable < 1:
        raise ValueError("the acceptable failure rate lies below the unacceptable one, both between 0 and 1")
    p, q = math.log(unacceptable / acceptable), math.log((1 - acceptable) / (1 - unacceptable))
    return CusumChart(q / (p + q), math.log((1 - error) / error) / (p + q))


# The project's own choice: five in a row come once in eight by luck to somebody who fails one in three.
RECOVERED_IN_A_ROW = 5


def last_alarm(outcomes: Iterable[bool], chart: CusumChart) -> int | None:
    """Return the index of the attempt with which the sum last rose to the limit; None without such an alarm.

    The sum starts at 0, never falls under it, and starts again from 0 after an alarm. An alarm is over with five
    successes in a row since: the sum itself is at 0 again after one, which shows nothing.
    """
    total, alarm, in_a_row = 0.0, None, 0
    for place, good in enumerate(outcomes):
        total = max(0.0, total - chart.step) if good else total + 1 - chart.step
        in_a_row = in_a_row + 1 if good else 0
        if total >= chart.limit:
            alarm, total = place, 0.0
        elif in_a_row >= RECOVERED_IN_A_ROW:
            alarm = None
    return alarm
