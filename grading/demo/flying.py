"""Draws what an instructor would have seen of a student: levels, help, faults, numbers. Seeded, no clock."""

import math
import random
from dataclasses import dataclass
from decimal import Decimal

from grading.demo.people import Learner
from lessons.scale import Ending, Help, Level

SCATTER = 0.10
THRESHOLDS = ((0.74, Level.PERFORM), (0.52, Level.PRACTICE), (0.32, Level.EXPLAIN))


@dataclass(frozen=True)
class Seen:
    """One attempt as an instructor would tap it; `fault` is a place in the list of its faults, from 0 to 1."""

    level: Level
    help: Help
    fault: float | None
    severe: bool


class Pilot:
    """A student who learns with every circuit. Skill lies between 0 and 1."""

    def __init__(self, learner: Learner) -> None:
        self.learner = learner
        self.random = random.Random(learner.reference)  # noqa: S311 - a demo is to be the same every time
        self.circuits = 0
        self.slumped = False

    @property
    def skill(self) -> float:
        learnt = self.learner.ceiling - (self.learner.ceiling - 0.3) * math.exp(-self.circuits / self.learner.pace)
        return learnt - (0.3 if self.slumped else 0)

    def attempt(self, ease: float = 0.0) -> Seen:
        quality = self.random.gauss(self.skill + ease, SCATTER)
        level = next((level for least, level in THRESHOLDS if quality >= least), Level.DESCRIBE)
        if level is Level.PERFORM:
            return Seen(level, Help.NONE, None, False)
        odds = self.random.random()
        if quality < 0.18 and odds < 0.4:
            return Seen(Level.EXPLAIN, Help.TOOK_CONTROL, self.random.random(), True)
        help_ = Help.PROMPTED if odds < 0.5 else Help.ASSISTED if quality < 0.5 else Help.NONE
        fault = self.random.random() if self.random.random() < 0.7 else None
        return Seen(level, help_, fault, quality < 0.25)

    def alone(self, expected: Level) -> Seen:
        """A manoeuvre by itself, taught to its level: usually reached, sometimes with a prompt."""
        if self.random.random() < 0.75 + self.skill / 5:
            return Seen(expected, Help.NONE, None, False)
        return Seen(Level.PRACTICE if expected is Level.PERFORM else expected, Help.PROMPTED, None, False)

    def ending(self, usual: str) -> str:
        self.circuits += 1
        return Ending.GO_AROUND.value if self.random.random() < 0.06 else usual

    def measured(self, target: Decimal, over: Decimal, under: Decimal, quantity: str) -> Decimal:
        """A number at a gate: fast, high and long as beginners are, less so with skill."""
        clumsy = max(0.05, 1 - self.skill)
        if quantity == "distance":
            value = target + Decimal(str(abs(self.random.gauss(0.35 + clumsy, 0.3 + clumsy / 2)))) * over
            return value.quantize(Decimal(10))
        drawn = Decimal(str(self.random.gauss(clumsy * 1.1, 0.3 + clumsy)))
        value = target + drawn * (over if drawn > 0 else under)
        return value.quantize(Decimal(10) if quantity == "height" else Decimal(1))
