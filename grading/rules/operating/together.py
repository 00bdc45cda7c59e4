"""Simulate how likely several parts are shown as met at one lesson's end. Pure: the seed is fixed.

Exact states would be the product of those of each part, a thousand times a thousand for two; so students are sampled.
"""

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from grading.rules.operating.exact import ShownByThen, longest_needed
from grading.rules.readiness.success_rules import Row, SuccessRule

STUDENTS = 10_000
SEED = 20261128
Counts = NDArray[np.int16]


def shown_together_by_then(
    rules: Sequence[SuccessRule], chances: Sequence[float], lessons: Sequence[int], students: int = STUDENTS
) -> ShownByThen:
    """Return how likely all parts are met at the same lesson's end, by the end of each lesson.

    rules, chances: of each part, in the same order; the parts succeed independently of each other. lessons: circuits
    of each lesson, every one with an attempt at each part.
    """
    draw = np.random.default_rng(SEED)
    met: NDArray[np.bool_] = np.ones((students, len(lessons)), dtype=bool)
    for rule, chance in zip(rules, chances, strict=True):
        good = draw.random((students, sum(lessons)), dtype=np.float32) < chance
        counts: Counts = np.zeros((students, sum(lessons) + 1), dtype=np.int16)
        np.cumsum(good, axis=1, out=counts[:, 1:])
        for lesson in range(len(lessons)):
            met[:, lesson] &= _is_met(rule, counts, lessons, lesson)
    shares = np.logical_or.accumulate(met, axis=1).mean(axis=0)
    error = max((sqrt(share * (1 - share) / students) for share in shares), default=0.0)
    return ShownByThen(tuple(accumulate(lessons)), tuple(float(share) for share in shares), error)


def _is_met(rule: SuccessRule, counts: Counts, lessons: Sequence[int], lesson: int) -> NDArray[np.bool_]:
    """Return which students meet a rule at a lesson's end. `counts`: good attempts after each circuit, from 0."""
    end = sum(lessons[: lesson + 1])
    if isinstance(rule, Row):
        least = longest_needed(rule, lessons, lesson)
        if least > end:
            return np.zeros(len(counts), dtype=bool)
        return np.asarray(counts[:, end] - counts[:, end - least] == least)
    if rule.last > end:
        return np.zeros(len(counts), dtype=bool)
    first = end - rule.last
    edges = [0, *accumulate(lessons[: lesson + 1])]
    spanned = np.zeros(len(counts), dtype=np.int16)
    for low, high in pairwise(edges):
        if high > first:
            spanned += counts[:, high] > counts[:, max(low, first)]
    newest_good = counts[:, end] > counts[:, end - 1]
    return np.asarray((counts[:, end] - counts[:, first] >= rule.good) & (spanned >= rule.lessons) & newest_good)
