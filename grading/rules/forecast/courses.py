"""Forecast the circuits until every part that is asked for would meet its rule at a lesson's end. Pure.

That is when a verdict is asked for its parts: only signed lessons count. Courses are sampled from the posterior, lesson
by lesson at the student's own length and gaps, and each is held against the rules from the student's present attempts
on. The seed makes the answer a function of what it is told.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from statistics import median

import numpy as np
from numpy.typing import NDArray

from grading.rules.forecast.curve import (
    DAY_SPREADS,
    LOSSES,
    FloatArray,
    PartHistory,
    chances,
    grid,
    practice,
)
from grading.rules.forecast.prior import Prior, posterior
from grading.rules.readiness.success_rules import Share, SuccessRule

BoolArray = NDArray[np.bool_]

# Past the horizon the answer is only “more than”: a forecast that far ahead helps nobody to plan.
COURSES, HORIZON = 600, 150
NEVER = HORIZON + 1
SEED = 20260701
LESSONS_AT_LAST = 5  # whose median is the student's usual lesson
MOST_LOOKED_AT = 80  # no rule looks back farther
CACHE_SIZE = 512


@dataclass(frozen=True, slots=True)
class Pace:
    """Give the circuits of a usual lesson, at least 1, and the days from one lesson to the next."""

    circuits: int
    gap: float


def usual_pace(parts: Sequence[PartHistory]) -> Pace:
    """Return the medians of the last lessons with circuits; one circuit and no gap before the first lesson."""
    circuits: dict[int, int] = {}
    days: dict[int, int] = {}
    for part in parts:
        of_part: dict[int, int] = {}
        for lesson, day in zip(part.lessons, part.days, strict=True):
            of_part[lesson], days[lesson] = of_part.get(lesson, 0) + 1, day
        # A circuit that ended in a go-around has no landing: the part flown most often tells the circuits.
        circuits |= {lesson: max(many, circuits.get(lesson, 0)) for lesson, many in of_part.items()}
    last = sorted(circuits, key=lambda lesson: (days[lesson], lesson))[-LESSONS_AT_LAST:]
    if not last:
        return Pace(1, 0.0)
    gaps = [days[later] - days[lesson] for lesson, later in pairwise(last)]
    return Pace(max(round(median(circuits[lesson] for lesson in last)), 1), float(median(gaps)) if gaps else 0.0)


def meets(part: PartHistory, rule: SuccessRule) -> bool:
    """Return whether a part meets its rule as it stands."""
    return rule.is_met([*zip(part.lessons, part.outcomes, strict=True)])


@lru_cache(maxsize=CACHE_SIZE)
def sample_waits(parts: tuple[PartHistory, ...], rules: tuple[SuccessRule, ...], prior: Prior) -> NDArray[np.int64]:
    """Return the circuits that each of the sampled courses takes, sorted, NEVER for one that does not get there."""
    pace, draw = usual_pace(parts), np.random.default_rng(SEED)
    ahead = _sample_courses(parts, pace, prior, draw)
    courses = [_Course.after(part, flown, pace.circuits) for part, flown in zip(parts, ahead, strict=True)]
    waits = np.full(COURSES, NEVER)
    if all(meets(part, rule) for part, rule in zip(parts, rules, strict=True)):
        waits[:] = 0
    for flown in range(pace.circuits, HORIZON + 1, pace.circuits):
        met = np.logical_and.reduce([course.meets(rule, flown) for course, rule in zip(courses, rules, strict=True)])
        waits[met & (waits == NEVER)] = flown
    waits.sort()
    waits.setflags(write=False)  # every caller shares this array
    return waits


def _sample_courses(
    parts: tuple[PartHistory, ...], pace: Pace, prior: Prior, draw: np.random.Generator
) -> list[BoolArray]:
    """Sample the attempts to come at each part, arrays (COURSES, HORIZON)."""
    of_student, of_curves = posterior(parts, prior)
    student = draw.choice(of_student.size, size=COURSES, p=of_student.ravel())
    _, spread, loss = np.unravel_index(student, of_student.shape)
    lesson = np.arange(HORIZON) // pace.circuits
    # One day for all parts of a lesson: who slept badly flies all of the circuit worse.
    days = np.exp(DAY_SPREADS[spread, None] * draw.standard_normal((COURSES, lesson[-1] + 1)))[:, lesson]
    sampled = []
    for part, curves in zip(parts, of_curves, strict=True):
        point = np.empty(COURSES, dtype=np.int64)
        for value in np.unique(student):
            chosen = student == value
            weights = curves.reshape(of_student.size, -1)[value]
            point[chosen] = draw.choice(len(weights), size=int(chosen.sum()), p=weights)
        had = np.stack([practice_ahead(part, pace, float(value)) for value in LOSSES])[loss]
        usual = chances(grid()[:, point], had)
        # The odds of a day multiply those of the curve.
        odds = usual / (1 - usual) * days
        sampled.append(draw.random((COURSES, HORIZON)) * (1 + odds) < odds)
    return sampled


def practice_ahead(part: PartHistory, pace: Pace, loss: float) -> FloatArray:
    """Return the practice with which each of the next attempts is flown."""
    had = practice(part.lessons, part.days, loss)
    now, ahead = (float(had[-1]) if len(had) else 0.0), np.empty(HORIZON)
    for place in range(HORIZON):
        now = now * (np.exp(-loss * pace.gap) if place % pace.circuits == 0 else 1.0) + 1
        ahead[place] = now
    return ahead


@dataclass(frozen=True)
class _Course:
    """Hold the attempts at one part, those flown and those sampled: (COURSES, attempts), and the lesson of each.

    past: how many were flown; so_far: the good ones before each attempt and before the one to follow the last;
    missed: the place of the last miss up to each attempt, -1 for none.
    """

    good: BoolArray
    lessons: NDArray[np.int64]
    past: int
    so_far: NDArray[np.int16]
    missed: NDArray[np.int16]

    @classmethod
    def after(cls, part: PartHistory, ahead: BoolArray, circuits: int) -> "_Course":
        flown = np.array(part.outcomes[-MOST_LOOKED_AT:], dtype=bool)
        past = np.unique(np.array(part.lessons[-MOST_LOOKED_AT:], dtype=np.int64), return_inverse=True)[1]
        good = np.hstack([np.broadcast_to(flown, (len(ahead), len(flown))), ahead])
        first = past[-1] + 1 if len(past) else 0
        lessons = np.append(past, first + np.arange(ahead.shape[1]) // circuits)
        so_far = np.zeros((len(good), good.shape[1] + 1), dtype=np.int16)
        np.cumsum(good, axis=1, out=so_far[:, 1:])
        missed = np.maximum.accumulate(np.where(good, -1, np.arange(good.shape[1], dtype=np.int16)), axis=1)
        return cls(good, lessons, len(flown), so_far, missed)

    def meets(self, rule: SuccessRule, ahead: int) -> BoolArray:
        """Return which courses meet a rule after so many circuits ahead, as `is_met` of the rule says of one."""
        end = self.past + ahead
        if isinstance(rule, Share):
            begin = end - rule.last
            if begin < 0:
                return np.zeros(len(self.good), dtype=bool)
            met = self.good[:, end - 1] & (self.so_far[:, end] - self.so_far[:, begin] >= rule.good)
            # The lessons are counted for the few courses that are there but for them.
            lessons = self.lessons[begin:end]
            begins = np.flatnonzero(np.append(True, lessons[1:] != lessons[:-1]))
            over = np.logical_or.reduceat(self.good[met, begin:end], begins, axis=1).sum(axis=1)
            met[met] = over >= rule.lessons
            return met
        row = self.missed[:, end - 1] + 1
        over = self.lessons[end - 1] - self.lessons[np.minimum(row, end - 1)] + 1
        return np.asarray((end - row >= rule.needed) & (over >= rule.lessons))
