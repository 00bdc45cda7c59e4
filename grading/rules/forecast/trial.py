"""Try the forecast on students that its model did not make: they learn at once, and slip.

Each part of a simulated student is a two-state learner: not knowing, it comes out right by chance (guess); after
each attempt the student may learn it for good; knowing, it still goes wrong now and then (slip). That is knowledge
tracing without forgetting (Corbett and Anderson, UMUAI 4 (1994/95) 253-278), not a logistic curve.
"""

from dataclasses import dataclass

import numpy as np

from grading.rules.forecast.curve import HORIZON, forecast_first_run, next_probability
from grading.rules.readiness.statistics import trace_knowledge

STREAK_NEEDED, PARTS = 3, ("takeoff", "approach", "landing")
KNOWN_AT_START = 0.1


@dataclass(frozen=True, slots=True)
class ForecastTrial:
    """Measure the forecast: shares from 0 to 1; Brier scores, lower is better; `bias` in circuits.

    held, early, late: what then happened lay in the interval, before it, after it. A bias below 0 means that the
    forecast was too long. brier_knowing: the score of somebody who knows how this student learns and only not
    whether they know it yet, which no forecast can beat.
    """

    students: int
    held: float
    early: float
    late: float
    brier: float
    brier_constant: float
    brier_last_three: float
    brier_knowing: float
    bias: float


class SimulatedLearner:
    """Simulate one part of one student by knowledge tracing, with rates sampled for this learner."""

    def __init__(self, draw: np.random.Generator) -> None:
        self.draw = draw
        self.learns = draw.uniform(0.04, 0.25)
        self.guess, self.slip = draw.uniform(0.05, 0.3), draw.uniform(0.02, 0.18)
        self.knows = bool(draw.random() < KNOWN_AT_START)

    def attempt(self) -> bool:
        right = bool(self.draw.random() < (1 - self.slip if self.knows else self.guess))
        self.knows = self.knows or bool(self.draw.random() < self.learns)
        return right


def run_trial(students: int, seed: int = 1) -> ForecastTrial:
    """Compare the forecast with what then happened, for this number of simulated students."""
    draw = np.random.default_rng(seed)
    inside, before, after, off = 0, 0, 0, []
    scores: list[tuple[float, ...]] = []
    tried = 0
    while tried < students:
        learners = {part: SimulatedLearner(draw) for part in PARTS}
        flown: dict[str, list[bool]] = {part: [] for part in PARTS}
        for _ in range(int(draw.integers(6, 40))):
            for part, learner in learners.items():
                flown[part].append(learner.attempt())
        rows = {part: _current_streak(outcomes) for part, outcomes in flown.items()}
        if min(rows.values()) >= STREAK_NEEDED:  # at the goal already: there is nothing to forecast
            continue
        tried += 1
        forecast = forecast_first_run(flown, dict.fromkeys(PARTS, STREAK_NEEDED), rows)
        scores += [_scores(flown[part], learners[part]) for part in PARTS]
        took = _circuits_until_streaks(learners, rows)
        last = HORIZON + 1 if forecast.late is None else forecast.late
        inside += forecast.early <= took <= last
        before += took < forecast.early
        after += took > last
        off.append(took - (forecast.middle if forecast.middle is not None else HORIZON))
    brier = [float(np.mean(column)) for column in zip(*scores, strict=True)]
    shares = (inside / students, before / students, after / students)
    held, early, late = shares
    model, constant, last_three, knowing = brier
    return ForecastTrial(students, held, early, late, model, constant, last_three, knowing, float(np.median(off)))


def _current_streak(outcomes: list[bool]) -> int:
    length = 0
    for right in outcomes:
        length = length + 1 if right else 0
    return length


def _circuits_until_streaks(learners: dict[str, SimulatedLearner], rows: dict[str, int]) -> int:
    """Return the circuits until every row is long enough at one time; one more than the horizon for never."""
    length = dict(rows)
    if all(row >= STREAK_NEEDED for row in length.values()):
        return 0
    for step in range(1, HORIZON + 1):
        for part, learner in learners.items():
            length[part] = length[part] + 1 if learner.attempt() else 0
        if all(row >= STREAK_NEEDED for row in length.values()):
            return step
    return HORIZON + 1


def _scores(outcomes: list[bool], learner: SimulatedLearner) -> tuple[float, ...]:
    """Return the squared errors of four guesses at the next attempt, expected over that attempt."""
    # Scored over what may happen and not over one outcome, which would add the noise of a coin to every score.
    chance = 1 - learner.slip if learner.knows else learner.guess
    known = trace_knowledge(KNOWN_AT_START, learner.learns, learner.guess, learner.slip, outcomes)[-1]
    guesses = (
        next_probability(outcomes),
        float(np.mean(outcomes)),
        float(np.mean(outcomes[-3:])),
        known * (1 - learner.slip) + (1 - known) * learner.guess,
    )
    return tuple(chance * (1 - guess) ** 2 + (1 - chance) * guess**2 for guess in guesses)
