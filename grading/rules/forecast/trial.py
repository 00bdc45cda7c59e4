"""Try the forecast on students that its model did not make, beside what the number of circuits flown alone tells."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grading.rules.forecast.circuits_to_go import Forecast, forecast_circuits, next_probability
from grading.rules.forecast.courses import HORIZON, NEVER, sample_waits
from grading.rules.forecast.curve import FloatArray, PartHistory
from grading.rules.forecast.default_prior import DEFAULT
from grading.rules.forecast.learn import calibrate, learn_prior
from grading.rules.forecast.learners import KINDS, PARTS, SimulatedStudent
from grading.rules.forecast.prior import Prior
from grading.rules.readiness.success_rules import COMMON_RULE, SuccessRule

# A forecast is asked for after so many circuits or more, the first included and the last not.
FROM, UP_TO = 6, 61
LATE_ENOUGH = 40  # circuits after which a stuck student should be told so
# Who “knows only the number flown” knows what became of past students: of this share, those nearest in number.
NEAREST, LEAST_NEAREST = 0.1, 30
SHOWN_LAST = 10


@dataclass(frozen=True, slots=True)
class Case:
    """Hold one student at a lesson's end short of the standard, and what happened: `took` circuits, or NEVER.

    coming: the outcome of the next attempt at each part.
    """

    kind: str
    flown: int
    parts: tuple[PartHistory, ...]
    took: int
    coming: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class TrialRow:
    """Measure the forecast over some students: shares from 0 to 1; CRPS in circuits and Brier, lower is better.

    held, early, late: of those told a number, what happened lay in the span, before it, after it. stalled: told “no
    progress”; stalled_late: the same of those asked after 40 circuits or more, None where nobody was; stalled_reached:
    of those told so, who got there all the same. crps_flown: of knowing only the number flown.
    """

    kind: str
    students: int
    held: float
    early: float
    late: float
    stalled: float
    stalled_late: float | None
    stalled_reached: float | None
    crps: float
    crps_flown: float
    brier: float
    brier_last_ten: float

    @property
    def gain(self) -> float:
        """Return the share by which the CRPS lies under that of knowing only the number flown."""
        return 1 - self.crps / self.crps_flown


@dataclass(frozen=True, slots=True)
class _Score:
    case: Case
    told: Forecast
    crps: float
    crps_flown: float
    brier: float
    brier_last_ten: float


def sample_cases(students: int, seed: int, rule: SuccessRule = COMMON_RULE, kinds: Sequence[str] = KINDS) -> list[Case]:
    """Simulate students, the kinds in turn, each up to a random lesson at which the rule is not met, and on."""
    draw = np.random.default_rng(seed)
    cases: list[Case] = []
    while len(cases) < students:
        student = SimulatedStudent(kinds[len(cases) % len(kinds)], draw)
        until = int(draw.integers(FROM, UP_TO))
        while student.flown < until:
            student.fly_lesson()
        if not _is_met(student, rule):  # at the goal already: there is nothing to forecast
            cases.append(_fly_on(student, rule))
    return cases


def _is_met(student: SimulatedStudent, rule: SuccessRule) -> bool:
    return all(rule.is_met([*zip(student.lessons, student.outcomes[part], strict=True)]) for part in PARTS)


def _fly_on(student: SimulatedStudent, rule: SuccessRule) -> Case:
    lessons, days, flown = tuple(student.lessons), tuple(student.days), student.flown
    parts = tuple(PartHistory(tuple(student.outcomes[part]), lessons, days) for part in PARTS)
    student.fly_lesson()
    coming = tuple(student.outcomes[part][flown] for part in PARTS)
    while not _is_met(student, rule) and student.flown - flown <= HORIZON:
        student.fly_lesson()
    return Case(student.kind, flown, parts, min(student.flown - flown, NEVER), coming)


def learn_from(past: Sequence[Case], rule: SuccessRule = COMMON_RULE) -> Prior:
    """Learn a prior from past students, and its span from what happened to them.

    Those that are told of no progress are told no span, so the span is set by the others.
    """
    prior = learn_prior([case.parts for case in past])
    rules = (rule,) * len(PARTS)
    told = [case for case in past if not forecast_circuits(case.parts, rules, prior).stalled]
    return calibrate(prior, [sample_waits(case.parts, rules, prior) for case in told], [case.took for case in told])


def run_trial(
    cases: Sequence[Case], past: Sequence[Case], prior: Prior = DEFAULT, rule: SuccessRule = COMMON_RULE
) -> list[TrialRow]:
    """Return how the forecast did for each kind among the cases and, as kind 'all', over all of them."""
    scores = [*_scores(cases, past, prior, rule)]
    kinds = [kind for kind in KINDS if any(case.kind == kind for case in cases)]
    rows = [_row(kind, [score for score in scores if score.case.kind == kind]) for kind in kinds]
    return [*rows, _row("all", scores)]


def _scores(cases: Sequence[Case], past: Sequence[Case], prior: Prior, rule: SuccessRule) -> Iterator[_Score]:
    rules = (rule,) * len(PARTS)
    for case in cases:
        told = forecast_circuits(case.parts, rules, prior)
        chances = np.array([next_probability(part, prior) for part in case.parts])
        last_ten = np.array([np.mean(part.outcomes[-SHOWN_LAST:]) for part in case.parts])
        yield _Score(
            case,
            told,
            crps(sample_waits(case.parts, rules, prior), case.took),
            crps(_waits_by_number_flown(past, case.flown), case.took),
            float(np.mean((chances - case.coming) ** 2)),
            float(np.mean((last_ten - case.coming) ** 2)),
        )


def _waits_by_number_flown(past: Sequence[Case], flown: int) -> FloatArray:
    count = max(LEAST_NEAREST, round(NEAREST * len(past)))
    nearest = sorted(past, key=lambda case: abs(case.flown - flown))[:count]
    return np.array(sorted(case.took for case in nearest), dtype=float)


def crps(told: Sequence[float] | FloatArray | NDArray[np.int64], took: float) -> float:
    """Return the continuous ranked probability score of a sorted sample: E|X − y| − E|X − X′| / 2.

    T. Gneiting and A. Raftery, Strictly proper scoring rules, J. Am. Stat. Assoc. 102 (2007) 359-378 (from memory).
    """
    sample, count = np.asarray(told, dtype=float), len(told)
    # Of a sorted sample the sum over all pairs is a weighted sum of its values.
    apart = float((2 * np.arange(1, count + 1) - count - 1) @ sample) / count**2
    return float(np.abs(sample - took).mean()) - apart


def _row(kind: str, scores: Sequence[_Score]) -> TrialRow:
    def share(of: Sequence[bool]) -> float:
        return float(np.mean(of)) if of else float("nan")

    numbered = [(score.told, score.case.took) for score in scores if not score.told.stalled]
    lates = [(NEVER if told.late is None else told.late, told.early, took) for told, took in numbered]
    late_enough = [bool(score.told.stalled) for score in scores if score.case.flown >= LATE_ENOUGH]
    stalled = [score for score in scores if score.told.stalled]
    return TrialRow(
        kind,
        len(scores),
        held=share([early <= took <= late for late, early, took in lates]),
        early=share([took < early for _, early, took in lates]),
        late=share([took > late for late, _, took in lates]),
        stalled=len(stalled) / len(scores),
        stalled_late=share(late_enough) if late_enough else None,
        stalled_reached=share([score.case.took < NEVER for score in stalled]) if stalled else None,
        crps=float(np.mean([score.crps for score in scores])),
        crps_flown=float(np.mean([score.crps_flown for score in scores])),
        brier=float(np.mean([score.brier for score in scores])),
        brier_last_ten=float(np.mean([score.brier_last_ten for score in scores])),
    )
