"""Simulate what an instructor would have seen of a student: levels, help, faults, numbers. Seeded, no clock."""

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from grading.rules.marking import Target
from grading.simulation.demo.demo_people import Learner
from lessons.models import Criterion, Fault
from lessons.rules.scale import Ending, Help, Level, Part

SCATTER = 0.10
# The gates at which numbers are noted: some each time, the others now and then.
NOTED_GATES = {
    Part.TAKEOFF: ("climb", "first-turn"),
    Part.DOWNWIND: ("abeam",),
    Part.APPROACH: ("final",),
    Part.LANDING: ("round-out", "touchdown"),
}
ALWAYS_NOTED_GATES = ("final", "touchdown")
# How much easier than a landing a part of the circuit is.
EASE = {Part.TAKEOFF: 0.1, Part.DOWNWIND: 0.08, Part.APPROACH: 0.03, Part.LANDING: 0.0, Part.GO_AROUND: 0.1}
THRESHOLDS = ((0.74, Level.PERFORM), (0.52, Level.PRACTICE), (0.32, Level.EXPLAIN))


@dataclass(frozen=True)
class SimulatedAttempt:
    """One attempt as an instructor would tap it; `fault` is a place in the list of faults, from 0 to 1."""

    level: Level
    help: Help
    fault: float | None
    severe: bool


class Pilot:
    """A student who learns with every circuit; skill lies between 0 and 1, and the same seed flies the same."""

    def __init__(self, learner: Learner, seed: str = "") -> None:
        self.learner = learner
        # A generator for each student: one student more changes nobody else's history.
        self.random = random.Random(seed + learner.reference)  # noqa: S311 - invented flying, no secret
        self.circuits = 0
        self.slumped = False

    @property
    def skill(self) -> float:
        learnt = self.learner.ceiling - (self.learner.ceiling - 0.3) * math.exp(-self.circuits / self.learner.pace)
        return learnt - (0.3 if self.slumped else 0)

    def attempt(self, ease: float = 0.0) -> SimulatedAttempt:
        quality = self.random.gauss(self.skill + ease, SCATTER)
        level = next((level for least, level in THRESHOLDS if quality >= least), Level.DESCRIBE)
        if level is Level.PERFORM:
            return SimulatedAttempt(level, Help.NONE, None, False)
        odds = self.random.random()
        if quality < 0.18 and odds < 0.4:
            return SimulatedAttempt(Level.EXPLAIN, Help.TOOK_CONTROL, self.random.random(), True)
        help_ = Help.PROMPTED if odds < 0.5 else Help.ASSISTED if quality < 0.5 else Help.NONE
        fault = self.random.random() if self.random.random() < 0.7 else None
        return SimulatedAttempt(level, help_, fault, quality < 0.25)

    def alone(self, expected: Level) -> SimulatedAttempt:
        """Fly a manoeuvre by itself, taught to its level: usually reached, sometimes with a prompt."""
        if self.random.random() < 0.75 + self.skill / 5:
            return SimulatedAttempt(expected, Help.NONE, None, False)
        return SimulatedAttempt(Level.PRACTICE if expected is Level.PERFORM else expected, Help.PROMPTED, None, False)

    def ending(self, usual: str) -> str:
        self.circuits += 1
        return Ending.GO_AROUND.value if self.random.random() < 0.06 else usual

    def fault(self, seen: SimulatedAttempt, known: Sequence[Fault]) -> Fault | None:
        """Choose the fault of an attempt from those of its manoeuvre; a critical one only after a severe error."""
        faults = [fault for fault in known if seen.severe or not fault.critical]
        return faults[int(seen.fault * len(faults))] if seen.fault is not None and faults else None

    def watched(self, level: Level, counting: Sequence[Criterion]) -> tuple[Criterion, bool] | None:
        """Tick a criterion now and then: done by those to standard, otherwise perhaps not."""
        if not counting or self.random.random() > 0.2:
            return None
        done = level is Level.PERFORM or self.random.random() < 0.5
        return self.random.choice(counting), done

    def noted(self, target: Target, level: Level) -> Decimal:
        """Return a number; to standard it lies inside, for the instructor would not grade it so otherwise."""
        value = self.measured(target.value, target.over, target.under, target.quantity)
        if level is Level.PERFORM:
            value = min(max(value, target.value - target.under), target.value + target.over)
        return value

    def measured(self, target: Decimal, over: Decimal, under: Decimal, quantity: str) -> Decimal:
        """Return a number at a gate: fast, high and long as beginners are, less so with skill."""
        # Never zero: good flying scatters too.
        clumsy = max(0.05, 1 - self.skill)
        if quantity == "distance":
            value = target + Decimal(str(abs(self.random.gauss(0.35 + clumsy, 0.3 + clumsy / 2)))) * over
            return value.quantize(Decimal(10))
        drawn = Decimal(str(self.random.gauss(clumsy * 1.1, 0.3 + clumsy)))
        value = target + drawn * (over if drawn > 0 else under)
        return value.quantize(Decimal(10) if quantity in ("height", "propeller") else Decimal(1))
