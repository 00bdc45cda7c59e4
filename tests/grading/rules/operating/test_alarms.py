"""Mean runs to an alarm, against a simulation of the sum as it is watched and against earlier figures.

The figures 81, 21.5, 9.5 and 5.2 attempts at 10, 20, 33 and 50 % failures, and 29 circuits for three parts at 10 %,
were measured by simulation.
"""

import random

import pytest

from grading.rules.operating.alarms import mean_run_to_alarm
from grading.rules.readiness.statistics import CusumChart, design_cusum, last_alarm

CHART = design_cusum(0.10, 0.33)


@pytest.mark.parametrize(("failures", "attempts"), [(0.1, 81), (0.2, 21.5), (0.33, 9.5), (0.5, 5.2)])
def test_the_mean_runs_are_those_measured(failures: float, attempts: float) -> None:
    assert mean_run_to_alarm(CHART, failures) == pytest.approx(attempts, rel=0.03)


def test_three_parts_cry_for_nothing_once_in_twenty_nine_circuits() -> None:
    assert round(mean_run_to_alarm(CHART, 0.1, parts=3)) == 29


def attempts_to_alarm(chart: CusumChart, failures: float, draw: random.Random) -> int:
    """Add one outcome at a time until the watch itself tells an alarm."""
    outcomes: list[bool] = []
    while last_alarm(outcomes, chart) is None:
        outcomes.append(draw.random() >= failures)
    return len(outcomes)


@pytest.mark.parametrize(
    ("chart", "failures"), [(CHART, 0.33), (CHART, 0.5), (design_cusum(0.05, 0.15), 0.3), (design_cusum(0.2, 0.6), 0.3)]
)
def test_the_chain_agrees_with_the_watch_itself(chart: CusumChart, failures: float) -> None:
    draw = random.Random(3)
    runs = [attempts_to_alarm(chart, failures, draw) for _ in range(4000)]
    assert mean_run_to_alarm(chart, failures) == pytest.approx(sum(runs) / len(runs), rel=0.04)


def test_who_always_fails_is_told_with_the_second_failure() -> None:
    assert mean_run_to_alarm(CHART, 1.0) == 2


def test_no_policy_takes_long_and_nonsense_is_refused() -> None:
    assert mean_run_to_alarm(design_cusum(0.01, 0.02), 0.01) > 100
    assert mean_run_to_alarm(design_cusum(0.01, 0.99), 0.01) == pytest.approx(100)  # its first failure is the alarm
    with pytest.raises(ValueError, match="a failure has a chance"):
        mean_run_to_alarm(CHART, 0.0)
