"""Simulate students of six kinds, none of them made as the forecast's model makes its own. Pure.

plateau: approaches a top exponentially. jump: learns at once and slips (knowledge tracing, Corbett and Anderson, UMUAI
4 (1994/95) 253-278). day: a plateau with bad days, on which all parts suffer. forgetting: approaches the top by a share
of what is missing at each attempt, and falls back over the days between lessons. stuck: a plateau, but the landing
stays low. constant: does not change at all. All rates are the project's own choice.
"""

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

PARTS = ("takeoff", "approach", "landing")
KINDS = ("plateau", "jump", "day", "forgetting", "stuck", "constant")
Draw = np.random.Generator


class PartLearner(Protocol):
    def chance(self) -> float: ...
    def practise(self, draw: Draw) -> None: ...
    def rest(self, days: int) -> None: ...


@dataclass
class Approaching:
    """Approach a top from a start by a share of what is missing at each attempt; rest takes back a share a day."""

    start: float
    top: float
    rate: float
    lost_a_day: float = 0.0
    now: float = field(init=False)

    def __post_init__(self) -> None:
        self.now = self.start

    def chance(self) -> float:
        return self.now

    def practise(self, draw: Draw) -> None:
        self.now += self.rate * (self.top - self.now)

    def rest(self, days: int) -> None:
        self.now = self.start + (self.now - self.start) * (1 - self.lost_a_day) ** days


@dataclass
class Jumping:
    """Guess until it is known, and slip after; it may be known with each attempt, and is never lost."""

    learn: float
    guess: float
    slip: float
    knows: bool

    def chance(self) -> float:
        return 1 - self.slip if self.knows else self.guess

    def practise(self, draw: Draw) -> None:
        self.knows = self.knows or bool(draw.random() < self.learn)

    def rest(self, days: int) -> None:
        pass


def _plateau(draw: Draw, low: float = 0.82, high: float = 0.99) -> Approaching:
    return Approaching(draw.uniform(0.02, 0.35), draw.uniform(low, high), draw.uniform(0.03, 0.2))


def make_part(kind: str, part: str, draw: Draw) -> PartLearner:
    """Return one part of a learner of a kind, its rates sampled."""
    if kind == "jump":
        knows = bool(draw.random() < 0.1)
        return Jumping(draw.uniform(0.04, 0.25), draw.uniform(0.05, 0.3), draw.uniform(0.02, 0.15), knows)
    if kind == "constant":
        level = draw.uniform(0.7, 0.97)
        return Approaching(level, level, 0.0)
    if kind == "forgetting":
        learner = _plateau(draw, 0.92, 0.99)
        learner.rate, learner.lost_a_day = draw.uniform(0.08, 0.25), draw.uniform(0.01, 0.05)
        return learner
    if kind == "stuck" and part == "landing":
        return _plateau(draw, 0.2, 0.6)
    return _plateau(draw)


class SimulatedStudent:
    """Fly lessons of about a usual length, some days apart, and record what happened."""

    def __init__(self, kind: str, draw: Draw) -> None:
        self.kind, self.draw = kind, draw
        self.parts = {part: make_part(kind, part, draw) for part in PARTS}
        self.usual = int(draw.integers(2, 7))
        self.gap = float(draw.uniform(2, 9))
        # On a bad day every chance is this share of itself; other kinds have none.
        self.bad_days, self.bad = (draw.uniform(0.15, 0.4), draw.uniform(0.4, 0.8)) if kind == "day" else (0.0, 1.0)
        self.lesson, self.day, self.flown = 0, 0, 0
        self.outcomes: dict[str, list[bool]] = {part: [] for part in PARTS}
        self.lessons: list[int] = []
        self.days: list[int] = []

    def fly_lesson(self) -> None:
        draw, rest = self.draw, 1 + int(self.draw.geometric(1 / self.gap))
        self.lesson, self.day = self.lesson + 1, self.day + rest
        share = self.bad if draw.random() < self.bad_days else 1.0
        for learner in self.parts.values():
            learner.rest(rest)
        for _ in range(max(self.usual + int(draw.integers(-1, 2)), 1)):
            self.flown += 1
            self.lessons.append(self.lesson)
            self.days.append(self.day)
            for part, learner in self.parts.items():
                self.outcomes[part].append(bool(draw.random() < share * learner.chance()))
                learner.practise(draw)
