"""Compute how soon the watch for slipping back raises its alarm, rightly or for nothing. Pure.

The sum is a Markov chain; its states are numbered by failures and successes since it was last 0.
"""

from functools import lru_cache
from math import inf
from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from grading.rules.readiness.statistics import CusumChart

# Beyond so many without an alarm and without a return to 0 an alarm is assumed: 0.3 % of the mean at 20 and 25 %.
MOST_FAILURES = 120
# The chance of no alarm yet falls by one factor for ever once that factor has not changed by this much for so long.
SETTLED = 1e-10
SETTLED_FOR = 100
MOST_ATTEMPTS = 20_000
State = tuple[int, int]


@lru_cache(maxsize=64)
def mean_run_to_alarm(chart: CusumChart, failures: float, parts: int = 1) -> float:
    """Return the mean attempts until the first alarm of any of some parts, each watched by itself from a sum of 0.

    `failures`: the chance of one at each attempt, the same for all parts, above 0 and up to 1. The parts are
    independent and have one attempt at a time, so the mean is that of the circuits flown.
    """
    if not 0 < failures <= 1 or parts < 1:
        raise ValueError("a failure has a chance above 0, up to 1, and at least one part is watched")
    moves = _moves(chart, failures)
    chance: NDArray[np.float64] = np.zeros(moves.shape[0])
    chance[0] = 1.0
    total, quiet, factor, settled = 0.0, 1.0, 0.0, 0
    for _ in range(MOST_ATTEMPTS):
        total += quiet**parts
        chance = moves @ chance
        after = float(chance.sum())
        if after == 0.0:
            return total
        settled = settled + 1 if abs(after / quiet - factor) < SETTLED else 0
        factor, quiet = after / quiet, after
        if settled >= SETTLED_FOR:
            break
    # The rest is a geometric series.
    return total + quiet**parts / (1 - factor**parts) if factor < 1 else inf


def _moves(chart: CusumChart, failures: float) -> Any:
    """Return the chance of each move from one state below the limit to another, as (to, from); 0 is the first state."""
    places: dict[State, int] = {(0, 0): 0}
    to, source, weight = [], [], []
    waiting: list[State] = [(0, 0)]
    while waiting:
        state = waiting.pop()
        for follower, chance in (
            (_after_success(state, chart), 1 - failures),
            (_after_failure(state, chart), failures),
        ):
            if follower is None:
                continue
            if follower not in places:
                places[follower] = len(places)
                waiting.append(follower)
            to.append(places[follower])
            source.append(places[state])
            weight.append(chance)
    return scipy.sparse.csr_matrix((weight, (to, source)), shape=(len(places), len(places)))


def _after_success(state: State, chart: CusumChart) -> State:
    failed, succeeded = state
    higher_than_zero = failed - (failed + succeeded + 1) * chart.step > 0
    return (failed, succeeded + 1) if higher_than_zero else (0, 0)


def _after_failure(state: State, chart: CusumChart) -> State | None:
    failed, succeeded = state
    alarm = failed + 1 - (failed + succeeded + 1) * chart.step >= chart.limit
    return None if alarm or failed == MOST_FAILURES else (failed + 1, succeeded)
