"""The mathematics against published answers and against scipy's own distributions.

Sources: Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, Wilson intervals (the paper was found, its figures
are from memory and agree with the formula to four places). Wald's sequential test as a chart and the parameters of its
published learning-curve examples (formula from memory, figures computed). The prediction interval's
worked example: speeds in six runs, computed here with scipy.stats.
"""

import math
import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from grading.rules.readiness.statistics import (
    Consistency,
    allow_for_lessons,
    compute_consistency,
    design_cusum,
    last_alarm,
    wilson_interval,
)


@pytest.mark.parametrize(
    ("good", "count", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (3, 3, 0.4385, 1.0),  # three landings in a row are weak evidence (computed)
        (8, 10, 0.4902, 0.9433),
    ],
)
def test_wilson_intervals_of_newcombe(good: int, count: int, low: float, high: float) -> None:
    found = wilson_interval(good, count)
    assert found == pytest.approx((low, high), abs=0.00006)


@given(st.integers(0, 60), st.integers(0, 60))
def test_an_interval_holds_its_share_and_agrees_with_scipy(good: int, more: int) -> None:
    count = good + more
    low, high = wilson_interval(good, count)
    assert 0 <= low <= high <= 1
    if count:
        assert low - 1e-12 <= good / count <= high + 1e-12
        other = stats.binomtest(good, count).proportion_ci(0.95, method="wilson")
        assert (low, high) == pytest.approx((other.low, other.high), abs=1e-9)


def test_a_share_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="not a share"):
        wilson_interval(4, 3)
    assert wilson_interval(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("acceptable", "unacceptable", "step", "limit"),
    [(0.05, 0.15, 0.0919, 1.816), (0.10, 0.20, 0.1452, 2.710), (0.05, 0.10, 0.0724, 2.941)],
)
def test_the_chart_has_the_published_step_and_limit(
    acceptable: float, unacceptable: float, step: float, limit: float
) -> None:
    found = design_cusum(acceptable, unacceptable)
    assert (found.step, found.limit) == (pytest.approx(step, abs=0.0001), pytest.approx(limit, abs=0.001))


def test_a_slip_is_told_at_the_attempt_that_shows_it_and_is_over_with_a_good_run() -> None:
    chart = design_cusum(0.1, 0.33)
    good, bad = True, False
    assert last_alarm([good] * 20, chart) is None
    assert last_alarm([good] * 5 + [bad, good, bad, bad], chart) == 8
    assert last_alarm([good] * 5 + [bad, good, bad, bad] + [good] * 8, chart) is None
    assert last_alarm([], chart) is None


def test_a_slip_is_over_with_five_good_in_a_row_since_and_not_before() -> None:
    """One good attempt takes the sum to 0 after an alarm, and says nothing of whether the slip is over."""
    chart, bad = design_cusum(0.1, 0.33), False
    slipped = [True] * 5 + [bad, bad]
    assert [last_alarm(slipped + [True] * more, chart) for more in range(7)] == [6, 6, 6, 6, 6, None, None]
    interrupted = [*slipped, True, True, True, True, bad, True, True, True, True]
    assert last_alarm(interrupted, chart) == 6
    assert last_alarm([*interrupted, True], chart) is None
    assert last_alarm([*slipped, True, bad, bad], chart) == 9  # a new alarm takes the place of the old one


def test_the_chance_of_the_next_number_by_hand() -> None:
    """Six speeds, 2 4 6 4 2 6 kt fast, within −5 and +10 kt: mean 4, s = √3.2, and t with 5 degrees of freedom."""
    found = compute_consistency([2, 4, 6, 4, 2, 6], -5, 10, 1, 10)
    assert found is not None
    assert (found.mean, found.spread) == (4, pytest.approx(math.sqrt(3.2)))
    scale = math.sqrt(3.2) * math.sqrt(1 + 1 / 6)
    expected = stats.t.cdf(6 / scale, 5) - stats.t.cdf(-9 / scale, 5)
    assert found.probability == pytest.approx(expected)
    assert found.probability == pytest.approx(0.9839, abs=0.0001)
    low, high = found.likely
    assert (high - 4, 4 - low) == pytest.approx((stats.t.ppf(0.9, 5) * scale,) * 2, abs=0.001)


def test_a_spread_is_never_less_than_that_of_rounding() -> None:
    """A uniform error of one reading step has the standard deviation 1/√12."""
    found = compute_consistency([0, 0, 0, 0, 0, 0], -5, 5, 10, 10)
    assert found is not None
    assert found.spread == pytest.approx(10 / math.sqrt(12))
    assert found.probability < 1
    assert compute_consistency([3], -5, 5, 1, 10) is None


@settings(max_examples=80)
@given(st.lists(st.integers(-30, 30), min_size=2, max_size=12), st.integers(1, 20), st.integers(0, 10))
def test_a_wider_tolerance_is_never_less_likely_met(amounts: list[int], width: int, more: int) -> None:
    narrow, wide = (
        compute_consistency(amounts, -width, width, 1, 10),
        compute_consistency(amounts, -width - more, width + more, 1, 10),
    )
    assert narrow is not None
    assert wide is not None
    assert 0 <= narrow.probability <= wide.probability + 1e-12 <= 1 + 1e-9
    assert narrow.count == min(len(amounts), 10)


def next_number(*by_lesson: list[float]) -> Consistency:
    """Return what some numbers of lessons say of the next one, in an invented tolerance of 5 to each side."""
    found = compute_consistency([value for rows in by_lesson for value in rows], -5, 5, 0.1, 100)
    assert found is not None
    return allow_for_lessons(found, by_lesson)


def test_a_number_of_the_next_lesson_by_hand() -> None:
    """Two numbers in each of three lessons, of means 3, 7 and 5: 8 between the lessons, 2 within.

    With n numbers in each of k lessons the next one varies by (1 + 1/k) of 8/n and (1 - 1/n) of 2: 16/3 + 1. Its
    degrees of freedom are (19/3)^2 / ((16/3)^2 / 2 + 1^2 / 3).
    """
    found = next_number([2, 4], [6, 8], [4, 6])
    assert (found.mean, found.lessons) == (5, 3)
    assert found.scale**2 == pytest.approx(19 / 3)
    assert found.freedom == pytest.approx((19 / 3) ** 2 / ((16 / 3) ** 2 / 2 + 1 / 3))
    half = stats.t.ppf(0.9, found.freedom) * math.sqrt(19 / 3)
    assert found.likely == pytest.approx((5 - half, 5 + half), abs=0.001)


@pytest.mark.parametrize("by_lesson", [[[2.0, 4, 6, 4]], [[2.0], [4], [6], [4]], [[2.0, 6], [4, 4]]])
def test_one_lesson_single_numbers_and_lessons_alike_stay_as_they_are(by_lesson: list[list[float]]) -> None:
    plain = compute_consistency([2, 4, 6, 4], -5, 5, 0.1, 100)
    found = next_number(*by_lesson)
    assert plain is not None
    assert (found.scale, found.freedom) == (plain.scale, plain.freedom)
    assert found.lessons == len(by_lesson)


@pytest.mark.parametrize(("share", "plain"), [(0.0, 0.80), (0.5, 0.71)])
def test_eighty_in_a_hundred_next_numbers_lie_inside_the_bracket_of_eighty(share: float, plain: float) -> None:
    """Ten numbers over two, three or five lessons, a share of their variance between lessons, the next in another one.

    By the numbers alone the bracket holds 71 of 100 where half of the variance lies between lessons.
    """
    draw = random.Random(8)

    def fly(day: float) -> float:
        return day + draw.gauss(0, math.sqrt(1 - share))

    held = {False: 0, True: 0}
    runs = 3000
    for run in range(runs):
        edges = ((0, 5, 10), (0, 4, 8, 10), (0, 3, 5, 10))[run % 3]
        days = [draw.gauss(0, math.sqrt(share)) for _ in edges]
        by_lesson = [[fly(day) for _ in range(*ends)] for day, ends in zip(days, pairwise(edges), strict=False)]
        following = fly(days[-1])
        alone = compute_consistency([value for rows in by_lesson for value in rows], -5, 5, 0.0, 100)
        assert alone is not None
        for lessons, found in ((False, alone), (True, allow_for_lessons(alone, by_lesson))):
            low, high = found.likely
            held[lessons] += low <= following <= high
    assert held[False] / runs == pytest.approx(plain, abs=0.025)
    assert 0.78 <= held[True] / runs <= 0.86
