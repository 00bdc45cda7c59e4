"""Forecast how many more circuits it takes until all parts would meet the standard at a lesson's end. Pure.

Where the attempts show no progress to a level at which the rule is met, it says so, and gives no number of circuits.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from grading.rules.forecast.courses import HORIZON, NEVER, Pace, meets, practice_ahead, sample_waits, usual_pace
from grading.rules.forecast.curve import (
    DAY_NODES,
    DAY_SPREADS,
    DAY_WEIGHTS,
    LOSSES,
    FloatArray,
    PartHistory,
    chances,
    grid,
    practice,
)
from grading.rules.forecast.default_prior import DEFAULT
from grading.rules.forecast.prior import Prior, posterior
from grading.rules.readiness.success_rules import Share, SuccessRule

CACHE_SIZE = 512
# No progress: after so many circuits it is as likely as this that one part, so many circuits ahead, is still at a level
# at which its rule holds at most one time in five; and it rose by less than this over its last ten attempts or more.
# The project's own choices, tried by `manage.py try_forecast`.
LEAST_CIRCUITS, AHEAD, LUCKY, LIKELY, RISE, LEAST_BACK, BACK_STEP = 30, 40, 0.2, 0.4, 0.1, 10, 5
NEGLIGIBLE = 1e-4  # a curve of less weight does not show in a drawing


@dataclass(frozen=True, slots=True)
class Forecast:
    """Give the circuits until every part meets its rule at a lesson's end: the middle of the courses, and the span.

    `middle` and `late` are None past the horizon; `reached` is the share of courses that get there within it.
    without_progress: for each part the attempts over which it has not risen, 0 where it is on its way.
    """

    middle: int | None
    early: int
    late: int | None
    reached: float
    without_progress: tuple[int, ...]

    @property
    def stalled(self) -> bool:
        """Return whether a part makes no progress: there is no number of circuits to tell then."""
        return any(self.without_progress)

    @property
    def words(self) -> str:
        """Return the number of circuits with its span, as 'about 12 more circuits (6 to 30)'."""
        until = f"to {self.late}" if self.late is not None else f"to more than {HORIZON}"
        if self.middle is None:
            return f"more than {HORIZON} more circuits at the present pace ({self.early} {until})"
        return f"about {self.middle} more circuits ({self.early} {until})"


def forecast_circuits(parts: Sequence[PartHistory], rules: Sequence[SuccessRule], prior: Prior = DEFAULT) -> Forecast:
    """Forecast the event from the attempts at each part and its rule, in the same order."""
    return _cached_forecast(tuple(parts), tuple(rules), prior)


@lru_cache(maxsize=CACHE_SIZE)
def _cached_forecast(parts: tuple[PartHistory, ...], rules: tuple[SuccessRule, ...], prior: Prior) -> Forecast:
    waits = sample_waits(parts, rules, prior)
    early, middle, late = (int(waits[round(share * (len(waits) - 1))]) for share in (prior.span[0], 0.5, prior.span[1]))
    return Forecast(
        middle=middle if middle < NEVER else None,
        early=min(early, HORIZON),
        late=late if late < NEVER else None,
        reached=float((waits < NEVER).mean()),
        without_progress=_without_progress(parts, rules, prior) if waits[-1] else (0,) * len(parts),
    )


def _without_progress(parts: tuple[PartHistory, ...], rules: tuple[SuccessRule, ...], prior: Prior) -> tuple[int, ...]:
    """Return for each part short of its rule over how many attempts it has not risen and stays too low; 0 for none."""
    if min(len(part.outcomes) for part in parts) < LEAST_CIRCUITS:
        return (0,) * len(parts)
    of_student, of_curves = posterior(parts, prior)
    pace = usual_pace(parts)
    return tuple(
        0
        if meets(part, rule)
        else _attempts_without_rise(part, of_student[..., None] * curves, _lucky_level(rule), pace)
        for part, rule, curves in zip(parts, rules, of_curves, strict=True)
    )


def _lucky_level(rule: SuccessRule) -> float:
    """Return the chance to standard at which a rule holds one time in five."""
    good, last = (rule.good, rule.last) if isinstance(rule, Share) else (rule.needed, rule.needed)
    # P(at least k of n) at the chance p is the regularised incomplete beta function I_p(k, n − k + 1).
    return float(special.betaincinv(good, last - good + 1, LUCKY))


def _attempts_without_rise(part: PartHistory, weights: FloatArray, level: float, pace: Pace) -> int:
    """Return over how many of the last attempts a part has hardly risen, 0 where it is on its way past a level."""
    backs = np.arange(LEAST_BACK, len(part.outcomes), BACK_STEP)
    low, rises = 0.0, np.zeros(len(backs))
    for column, loss in enumerate(LOSSES):
        had = practice(part.lessons, part.days, float(loss))
        # Over a lesson and not at one attempt: what is lost in a gap comes back within it.
        coming = practice_ahead(part, pace, float(loss))[max(AHEAD - pace.circuits, 0) : AHEAD].mean()
        of_loss = weights[..., column, :].sum(axis=(0, 1))
        heavy = of_loss > NEGLIGIBLE / 10
        chance = chances(grid()[:, heavy], np.array([[coming, had[-1], *had[-1 - backs]]]))
        low += float(of_loss[heavy] @ (chance[:, 0] < level))
        rises += of_loss[heavy] @ (chance[:, 1:2] - chance[:, 2:])
    flat = backs[rises < RISE]
    return int(flat.max()) if low > LIKELY and len(flat) else 0


def next_probability(part: PartHistory, prior: Prior = DEFAULT) -> float:
    """Return the chance that the next attempt is to standard."""
    return learning_curve(part, 1, prior)[-1]


@lru_cache(maxsize=CACHE_SIZE)
def learning_curve(part: PartHistory, ahead: int = 6, prior: Prior = DEFAULT) -> tuple[float, ...]:
    """Return the chance at each attempt so far and at the next `ahead` ones, by the posterior mean."""
    of_student, (of_curves,) = posterior([part], prior)
    pace, mean = usual_pace([part]), np.zeros(len(part.outcomes) + ahead)
    for column, loss in enumerate(LOSSES):
        had = np.append(practice(part.lessons, part.days, float(loss)), practice_ahead(part, pace, float(loss))[:ahead])
        weights = (of_student[..., column, None] * of_curves[..., column, :]).sum(axis=0)
        heavy = weights.max(axis=0) > NEGLIGIBLE / 10
        odds = 1 / chances(grid()[:, heavy], had[None]) - 1
        for weight, spread in zip(weights[:, heavy], DAY_SPREADS, strict=True):
            for node, share in zip(DAY_NODES, DAY_WEIGHTS, strict=True):
                mean += share * (weight @ (1 / (1 + odds * np.exp(spread * node))))
    return tuple(float(chance) for chance in mean)
