"""Learn from past students how students learn, and how wide a span must be to hold what then happens. Pure.

The weights are learned by expectation and maximisation over the grid (N. Laird, Nonparametric maximum likelihood
estimation of a mixing distribution, J. Am. Stat. Assoc. 73 (1978) 805-811, from memory), here for a few kinds of
learners with one set of weights for each axis: some thirty numbers a kind. The span is then set by where in their
forecasts the waits of past students lay (conformal: Y. Romano and others, Conformalized quantile regression, NeurIPS
2019, from memory), here as shares of the sampled courses.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from grading.rules.forecast.curve import (
    DAY_SPREADS,
    LOSSES,
    MIDDLES,
    STARTS,
    STEEPS,
    TOPS,
    FloatArray,
    PartHistory,
    log_likelihood,
)
from grading.rules.forecast.prior import Kind, Prior, Weights, relative, weigh, weights

CURVE_SHAPE = (len(MIDDLES), len(STEEPS), len(STARTS), len(TOPS))
STUDENT_SHAPE = (len(DAY_SPREADS), len(LOSSES))
ROUNDS = 25
KIND_COUNT = 5
# Every kind holds as much as so many students about whom nothing is known, so that no value is ever impossible.
WORTH = 3.0
SEED = 20260702
HELD = 0.8


def learn_prior(students: Sequence[Sequence[PartHistory]], kinds: int = KIND_COUNT) -> Prior:
    """Learn the kinds of learners from the parts of past students."""
    # In single precision: a thousand histories of 7,200 numbers each are held at once.
    flown = [relative(np.stack([log_likelihood(part) for part in parts]).astype(np.float32)) for parts in students]
    prior = _begin(kinds)
    for _ in range(ROUNDS):
        student, curve = (array.astype(np.float32) for array in weights(prior))
        of_students, of_curves = np.zeros(student.shape), np.zeros(curve.shape)
        for likelihood, most in flown:
            weight, curves = weigh(likelihood, most, student, curve)
            of_students += weight
            # Each student once, however many parts are asked for.
            of_curves += np.einsum("kij,pkijc->kc", weight, curves) / len(likelihood)
        prior = Prior(tuple(map(_kind, of_students, of_curves, repeat(len(students) + kinds * WORTH))))
    return prior


def _begin(kinds: int) -> Prior:
    """Return kinds that differ by chance, from a seed: alike they would remain alike."""
    draw = np.random.default_rng(SEED)
    axes = (*CURVE_SHAPE, *STUDENT_SHAPE)
    return Prior(tuple(Kind(1 / kinds, *(_share(draw.uniform(0.5, 1.5, size)) for size in axes)) for _ in range(kinds)))


def _kind(of_students: FloatArray, of_curves: FloatArray, students: float) -> Kind:
    """Return the weights of one kind from the students counted for it, and as many for each axis spread evenly."""
    axes = [*_per_axis(of_curves.reshape(CURVE_SHAPE)), *_per_axis(of_students)]
    return Kind(float(of_students.sum() + WORTH) / students, *(_share(counts + WORTH / len(counts)) for counts in axes))


def _per_axis(counts: FloatArray) -> list[FloatArray]:
    places = range(counts.ndim)
    return [counts.sum(axis=tuple(place for place in places if place != axis)) for axis in places]


def _share(counts: FloatArray) -> Weights:
    return tuple(float(value) for value in counts / counts.sum())


def calibrate(prior: Prior, waits: Sequence[NDArray[np.int64]], took: Sequence[int]) -> Prior:
    """Return the prior with the span that held what happened to eight in ten of past students, a tail on each side.

    waits: the sorted sampled waits told to each; took: the circuits that it then took, NEVER for never.
    """
    places = [
        # In the middle of the courses that took just as long: waits are whole lessons, so many tie.
        float(np.searchsorted(told, then, "left") + np.searchsorted(told, then, "right")) / (2 * len(told))
        for told, then in zip(waits, took, strict=True)
    ]
    tail = (1 - HELD) / 2
    early, late = np.quantile(places, [tail, 1 - tail])
    return replace(prior, span=(float(early), float(late)))
