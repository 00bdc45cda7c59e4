"""Model the chance that the next attempt is to standard as a learning curve over attempts. Pure.

One student is fitted with a curve of their own: a logistic rise from a low to a high probability, its middle, its
width and its two ends unknown. The posterior over a grid of these four is exact for the grid; the prior is weak.
Paths are sampled from it with a seed, so that the same history gives the same answer.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# The axes of the grid: attempts at the middle of the rise, its width in attempts, and the chances before and after it.
# No learner is certain to fail or to succeed, so the ends stay off 0 and 1, whose logarithms would be infinite.
MIDDLES = np.array([-6, -2, 1, 3, 5, 7, 10, 13, 17, 22, 28, 35, 45, 60], dtype=float)
WIDTHS = np.array([0.4, 1.5, 4.0, 9.0])
LOWS = np.array([0.03, 0.1, 0.2, 0.3])
HIGHS = np.array([0.7, 0.82, 0.9, 0.95, 0.985])
# Past the horizon the answer is only “more than”: a forecast that far ahead helps nobody to plan.
PATH_COUNT, HORIZON = 1000, 150
SEED = 20260701
# Both caches have the outcomes as their key. A posterior is an array of 1,120 numbers, so a full cache is some 5 MB.
CACHE_SIZE = 512
MAX_ATTEMPTS = 400  # older ones than these say nothing about tomorrow


@dataclass(frozen=True, slots=True)
class Forecast:
    """Give the circuits until every part has its row: the middle of the paths, and the 80 % of them around it.

    `late` is None where more than one path in ten does not get there within the horizon.
    """

    middle: int | None
    early: int
    late: int | None
    reached: float

    @property
    def words(self) -> str:
        if self.middle is None:
            return f"not within {HORIZON} circuits as it goes now"
        until = f"to {self.late}" if self.late is not None else f"to more than {HORIZON}"
        return f"about {self.middle} more circuits ({self.early} {until})"


@lru_cache(maxsize=1)
def _grid() -> tuple[FloatArray, FloatArray]:
    """Return the parameters (count, 4) as middle, width, low, high, and the logarithm of the prior."""
    middle, width, low, high = np.meshgrid(MIDDLES, WIDTHS, LOWS, HIGHS, indexing="ij")
    grid = np.stack([middle.ravel(), width.ravel(), low.ravel(), high.ravel()], axis=1)
    # Every point has the same weight; the middles lie closer together early on, so early learning is the likelier.
    return grid, np.full(len(grid), -np.log(len(grid)))


def _curve(grid: FloatArray, at: FloatArray) -> FloatArray:
    """Return the probability at each attempt (from 1), shape (parameters, attempts)."""
    middle, width, low, high = (column[:, None] for column in grid.T)
    # Clipped, because exp() of what a narrow curve gives far from its middle would overflow with a warning.
    return np.asarray(low + (high - low) / (1 + np.exp(-np.clip((at[None, :] - middle) / width, -50, 50))))


def posterior(outcomes: Sequence[bool]) -> FloatArray:
    """Return the weight of each point of the grid after these outcomes, in the order flown, as a read-only array."""
    return _cached_posterior(tuple(outcomes))


@lru_cache(maxsize=CACHE_SIZE)
def _cached_posterior(outcomes: tuple[bool, ...]) -> FloatArray:
    """Compute the posterior; the outcomes are the key of the cache, and one page asks four times for the same ones."""
    grid, prior = _grid()
    recent = np.asarray(outcomes[-MAX_ATTEMPTS:], dtype=float)
    if not len(recent):
        return np.asarray(np.exp(prior))
    # The attempts retain their own numbers: dropping the oldest does not make a student a beginner.
    first = len(outcomes) - len(recent)
    chance = _curve(grid, np.arange(first + 1, len(outcomes) + 1, dtype=float))
    log = prior + (recent * np.log(chance) + (1 - recent) * np.log1p(-chance)).sum(axis=1)
    # Relative to the largest, so that the likelihood of a long history does not vanish in the arithmetic.
    weight = np.exp(log - log.max())
    shares = np.asarray(weight / weight.sum())
    shares.setflags(write=False)  # every caller shares this array
    return shares


def next_probability(outcomes: Sequence[bool]) -> float:
    """Return the chance that the next attempt is to standard."""
    grid, _ = _grid()
    chance = _curve(grid, np.array([len(outcomes) + 1.0]))[:, 0]
    return float(chance @ posterior(outcomes))


def learning_curve(outcomes: Sequence[bool], ahead: int = 6) -> list[float]:
    """Return the chance at each attempt so far and at the next `ahead` ones, by the posterior mean."""
    grid, _ = _grid()
    at = np.arange(1, len(outcomes) + ahead + 1, dtype=float)
    return [float(value) for value in posterior(outcomes) @ _curve(grid, at)]


def forecast_first_run(
    parts: Mapping[str, Sequence[bool]], needed: Mapping[str, int], rows: Mapping[str, int]
) -> Forecast:
    """Forecast how many more circuits it takes until every part has its row at one time.

    parts: outcomes of each part in the order flown; needed: how many in a row each part needs; rows: the length of
    its row under way.
    """
    return _cached_forecast(
        tuple(tuple(outcomes) for outcomes in parts.values()),
        tuple(needed[part] for part in parts),
        tuple(rows.get(part, 0) for part in parts),
    )


@lru_cache(maxsize=CACHE_SIZE)
def _cached_forecast(parts: tuple[tuple[bool, ...], ...], needed: tuple[int, ...], rows: tuple[int, ...]) -> Forecast:
    """Simulate the paths; the arguments are the key of the cache, and the seed makes the answer a function of them."""
    draw = np.random.default_rng(SEED)
    length = np.stack([np.full(PATH_COUNT, row) for row in rows])
    goal = np.array(needed)[:, None]
    done = np.full(PATH_COUNT, -1)
    # The loop below looks only after a circuit, so it would ask a student who is there already for one more.
    if bool((length >= goal).all()):
        return Forecast(0, 0, 0, 1.0)
    # Each part has paths of its own: no curve of one part is fitted to the attempts of another.
    flown = np.stack([_paths(outcomes, draw) for outcomes in parts])
    for step in range(HORIZON):
        length = np.where(flown[:, :, step], length + 1, 0)
        reached = (length >= goal).all(axis=0) & (done < 0)
        done[reached] = step + 1
    return _summary(done)


def _paths(outcomes: Sequence[bool], draw: np.random.Generator) -> NDArray[np.bool_]:
    """Sample the outcomes of the attempts to come, shape (PATH_COUNT, HORIZON)."""
    grid, _ = _grid()
    chosen = grid[draw.choice(len(grid), size=PATH_COUNT, p=posterior(outcomes))]
    ahead = np.arange(len(outcomes) + 1, len(outcomes) + HORIZON + 1, dtype=float)
    return np.asarray(draw.random((PATH_COUNT, HORIZON)) < _curve(chosen, ahead))


def _summary(done: NDArray[np.int64]) -> Forecast:
    """Summarise the circuits that each path took; -1 for a path that did not get there."""
    # A path that never gets there counts as the longest, so that it widens the interval and is not left out.
    never = HORIZON + 1
    steps = np.sort(np.where(done < 0, never, done))
    early, middle, late = (int(steps[int(share * (PATH_COUNT - 1))]) for share in (0.1, 0.5, 0.9))
    return Forecast(
        middle=middle if middle < never else None,
        early=min(early, HORIZON),
        late=late if late < never else None,
        reached=float((done > 0).mean()),
    )
