"""Model the chance that an attempt at one part of the circuit is to standard, and what a history says of it. Pure.

The chance rises with practice along a logistic curve from a start to a top, which may be low: not everybody gets
there. Practice is lost over the days between lessons, and a lesson may be a good or a bad day as a whole. Each of the
six unknowns has a few values, so the posterior over their grid is exact for the grid.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating[Any]]

# The axes of a curve: the practice, in attempts, at the middle of the rise; how steep it is there; the start as a share
# of the top (1: no rise at all); the top. No learner is certain to fail or to succeed, so the ends stay off 0 and 1.
MIDDLES = np.array([1.5, 3, 5, 8, 12, 17, 24, 34, 48, 70])
STEEPS = np.array([1.2, 2.5, 8.0])
STARTS = np.array([0.1, 0.35, 0.7, 1.0])
TOPS = np.array([0.3, 0.45, 0.58, 0.7, 0.78, 0.85, 0.9, 0.94, 0.97, 0.99])
# The axes of a student, alike for all parts: the standard deviation of a day in logits; the practice lost a day.
DAY_SPREADS = np.array([0.0, 1.2])
LOSSES = np.array([0.0, 1 / 60, 1 / 20])
# A day in the likelihood: nodes and weights of the three-point Gauss-Hermite rule for a standard normal.
DAY_NODES, DAY_WEIGHTS = np.array([-(3**0.5), 0.0, 3**0.5]), np.array([1, 4, 1]) / 6
# Of older attempts only the practice counts: how they went says nothing about tomorrow.
MOST_ATTEMPTS = 80
CACHE_SIZE = 256  # a likelihood has 7,200 numbers of 8 bytes: a full cache is some 15 MB


@dataclass(frozen=True, slots=True)
class PartHistory:
    """Hold the attempts at one part, oldest first: whether each was to standard, its lesson, and the lesson's day.

    lessons: numbers that differ from lesson to lesson; days: ordinals, as of date.toordinal().
    """

    outcomes: tuple[bool, ...] = ()
    lessons: tuple[int, ...] = ()
    days: tuple[int, ...] = ()


@lru_cache(maxsize=1)
def grid() -> FloatArray:
    """Return the curves, shape (4, points): middle, steep, start as a chance, top."""
    middle, steep, start, top = (axis.ravel() for axis in np.meshgrid(MIDDLES, STEEPS, STARTS, TOPS, indexing="ij"))
    return np.stack([middle, steep, start * top, top])


def practice(lessons: tuple[int, ...], days: tuple[int, ...], loss: float) -> FloatArray:
    """Return the practice with which each attempt is flown: the attempts up to it, less what the gaps took away."""
    had, so_far = [], 0.0
    for place, lesson in enumerate(lessons):
        if place and lesson != lessons[place - 1]:
            so_far *= np.exp(-loss * max(days[place] - days[place - 1], 0))
        so_far += 1
        had.append(so_far)
    return np.array(had)


def chances(curves: FloatArray, had: FloatArray) -> FloatArray:
    """Return the chance on a usual day for curves (4, points) at the practice (points or 1, attempts)."""
    middle, steep, start, top = (axis[:, None] for axis in curves)
    return np.asarray(start + (top - start) / (1 + (middle / had) ** steep))


@lru_cache(maxsize=8)
def _odds(lessons: tuple[int, ...], days: tuple[int, ...]) -> tuple[FloatArray, ...]:
    """Return the odds of every curve at the last attempts, one array for each loss; the parts mostly share them."""
    usual = (chances(grid(), practice(lessons, days, loss)[None, -MOST_ATTEMPTS:]) for loss in LOSSES)
    return tuple(chance / (1 - chance) for chance in usual)


@lru_cache(maxsize=CACHE_SIZE)
def log_likelihood(part: PartHistory) -> FloatArray:
    """Return the log likelihood of a history, shape (day spreads, losses, points), read-only."""
    log = np.zeros((len(DAY_SPREADS), len(LOSSES), grid().shape[1]))
    if part.outcomes:
        good = np.array(part.outcomes[-MOST_ATTEMPTS:])
        lessons = np.array(part.lessons[-MOST_ATTEMPTS:])
        begins = np.flatnonzero(np.append(True, lessons[1:] != lessons[:-1]))
        for row, spread in enumerate(DAY_SPREADS):
            for column, odds in enumerate(_odds(part.lessons, part.days)):
                log[row, column] = _log_of_lessons(odds, good, begins, spread)
    log.setflags(write=False)  # every caller shares this array
    return log


def _log_of_lessons(odds: FloatArray, good: NDArray[np.bool_], begins: NDArray[np.int64], spread: float) -> FloatArray:
    """Return the log likelihood (points,) with each lesson averaged over how good a day it may have been."""
    nodes = zip(DAY_NODES, DAY_WEIGHTS, strict=True) if spread else [(0.0, 1.0)]
    lessons = np.zeros((len(odds), len(begins)))
    for node, weight in nodes:
        chance = 1 / (1 + odds * np.exp(spread * node))
        chance[:, good] = 1 - chance[:, good]
        lessons += weight * np.multiply.reduceat(chance, begins, axis=1)
    return np.asarray(np.log(lessons).sum(axis=1))
