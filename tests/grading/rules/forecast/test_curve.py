"""The forecast: calibrated on students its model did not make, deterministic, and monotone where it must be.

The simulated students are two-state learners with slips (knowledge tracing, Corbett and Anderson, UMUAI 4 (1994/95)
253-278); the forecast fits a logistic curve. The share an 80 % interval must hold is the project's own demand.
"""

from io import StringIO

import pytest
from django.core.management import call_command

from grading.rules.forecast import forecast_first_run, learning_curve, next_probability
from grading.rules.forecast.curve import HORIZON, _cached_forecast, _cached_posterior, posterior
from grading.rules.forecast.trial import run_trial
from grading.rules.readiness.statistics import expected_trials_to_run

PARTS = ("takeoff", "approach", "landing")
THREE_EACH = dict.fromkeys(PARTS, 3)


def test_the_interval_holds_what_it_promises_and_the_chance_beats_simple_guesses() -> None:
    """400 students here; the command tries 2,000."""
    found = run_trial(400, seed=7)
    assert 0.75 <= found.held <= 0.88  # 400 students: three standard errors of 0.02 around the demand
    assert found.brier < found.brier_last_three < found.brier_constant
    assert found.brier_knowing < found.brier


def test_the_command_prints_the_trial() -> None:
    out = StringIO()
    call_command("try_forecast", "--students", "40", "--seed", "3", stdout=out)
    text = out.getvalue()
    assert "40 simulated students" in text
    assert "80 % interval held" in text
    assert "constant rate" in text


def test_the_same_history_gives_the_same_forecast() -> None:
    flown = {part: [False, True, False, True, True, False, True] for part in PARTS}
    rows = dict.fromkeys(PARTS, 1)
    told = forecast_first_run(flown, THREE_EACH, rows)
    _cached_forecast.cache_clear()
    _cached_posterior.cache_clear()
    assert forecast_first_run(flown, THREE_EACH, rows) == told


def test_a_student_at_standard_needs_no_more_circuits() -> None:
    flown = {part: [True, True, True] for part in PARTS}
    assert forecast_first_run(flown, THREE_EACH, dict.fromkeys(PARTS, 3)).words == "about 0 more circuits (0 to 0)"


def test_a_better_history_is_never_told_longer() -> None:
    worse = {part: [False] * 8 + [True, False] for part in PARTS}
    better = {part: [False] * 4 + [True] * 6 for part in PARTS}
    late, soon = (
        forecast_first_run(worse, THREE_EACH, dict.fromkeys(PARTS, 0)),
        forecast_first_run(better, THREE_EACH, dict.fromkeys(PARTS, 0)),
    )
    assert (soon.middle or HORIZON) < (late.middle or HORIZON)


def test_a_steady_student_takes_about_what_the_formula_says() -> None:
    """Ninety attempts at three in four to standard, one part: the mean wait is (1 − p³)/((1 − p)p³) = 5.5."""
    steady = [place % 4 != 3 for place in range(92)]
    found = forecast_first_run({"landing": steady}, {"landing": 3}, {"landing": 0})
    assert found.middle is not None
    assert found.early <= expected_trials_to_run(0.75, 3) <= (found.late or HORIZON)
    assert next_probability(steady) == pytest.approx(0.75, abs=0.08)


def test_the_curve_is_a_chance_and_the_posterior_sums_to_one() -> None:
    outcomes = [False, False, True, True, True]
    curve = learning_curve(outcomes, ahead=4)
    assert len(curve) == 9
    assert all(0 < chance < 1 for chance in curve)
    assert curve == sorted(curve)  # a learning curve never falls: falling back is told by the watch instead
    assert posterior(outcomes).sum() == pytest.approx(1)
    assert posterior([]).sum() == pytest.approx(1)
