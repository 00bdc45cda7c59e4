"""Say how students learn as a rule, as a weight for each value of each unknown, and judge a history by it. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, reduce

import numpy as np

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

Weights = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """Hold one kind of learner: its share of students, and the weights of each axis, each summing to 1."""

    share: float
    middles: Weights
    steeps: Weights
    starts: Weights
    tops: Weights
    day_spreads: Weights
    losses: Weights

    @property
    def curve_axes(self) -> tuple[Weights, ...]:
        return self.middles, self.steeps, self.starts, self.tops

    @property
    def student_axes(self) -> tuple[Weights, ...]:
        return self.day_spreads, self.losses


@dataclass(frozen=True, slots=True)
class Prior:
    """Hold the kinds of learners, and the two shares of courses between which a span lies.

    A student is of one kind in all parts, so that one part says something of how another will go on.
    """

    kinds: tuple[Kind, ...]
    span: tuple[float, float] = (0.1, 0.9)


def _even(axis: FloatArray) -> Weights:
    return (1 / len(axis),) * len(axis)


EVEN = Prior((Kind(1.0, *map(_even, (MIDDLES, STEEPS, STARTS, TOPS, DAY_SPREADS, LOSSES))),))


@lru_cache(maxsize=4)
def weights(prior: Prior) -> tuple[FloatArray, FloatArray]:
    """Return the prior of a student (kinds, day spreads, losses) and of a curve given the kind (kinds, points)."""
    student = np.stack([kind.share * _outer(kind.student_axes) for kind in prior.kinds])
    return student, np.stack([_outer(kind.curve_axes).ravel() for kind in prior.kinds])


def _outer(axes: tuple[Weights, ...]) -> FloatArray:
    """Return the product of every choice of one weight from each axis."""
    return np.asarray(reduce(np.multiply.outer, map(np.array, axes)))


def posterior(parts: Sequence[PartHistory], prior: Prior) -> tuple[FloatArray, FloatArray]:
    """Return the weights of (kinds, day spreads, losses), and those of each part's curves given these.

    The second has the shape (parts, kinds, day spreads, losses, points) and sums to 1 over the points.
    """
    likelihood, most = relative(np.stack([log_likelihood(part) for part in parts]))
    return weigh(likelihood, most, *weights(prior))


def relative(log: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return likelihoods relative to the largest over the points, and the logarithm of that."""
    # So that the likelihood of a long history does not vanish in the arithmetic.
    most = log.max(axis=-1, keepdims=True)
    return np.exp(log - most), most[..., 0]


def weigh(
    likelihood: FloatArray, most: FloatArray, student: FloatArray, curves: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the posterior of one student, from likelihoods (parts, day spreads, losses, points) and the prior."""
    weight = likelihood[:, None] * curves[None, :, None, None]
    total = weight.sum(axis=-1)
    log = np.log(student) + (most[:, None] + np.log(total)).sum(axis=0)
    of_student = np.exp(log - log.max())
    return of_student / of_student.sum(), weight / total[..., None]
