"""Learning from past students: what they show moves the prior, and the span holds what it promises of them."""

import numpy as np
import pytest

from grading.rules.forecast.curve import TOPS, PartHistory
from grading.rules.forecast.learn import HELD, calibrate, learn_prior
from grading.rules.forecast.prior import EVEN, Prior, posterior


def student(outcomes: list[bool]) -> list[PartHistory]:
    lessons = tuple(place // 4 for place in range(len(outcomes)))
    return [PartHistory(tuple(outcomes), lessons, tuple(3 * lesson for lesson in lessons))]


def expected_top(prior: Prior) -> float:
    return sum(kind.share * float(np.dot(kind.tops, TOPS)) for kind in prior.kinds)


def test_a_school_of_good_students_expects_more_of_the_next_one() -> None:
    good = learn_prior([student([True] * 30)] * 20, kinds=2)
    poor = learn_prior([student([place % 2 == 0 for place in range(30)])] * 20, kinds=2)
    assert expected_top(poor) < 0.7 < expected_top(good)


def test_the_weights_are_shares_and_none_is_ruled_out() -> None:
    prior = learn_prior([student([False] * 10 + [True] * 20)] * 5, kinds=3)
    assert sum(kind.share for kind in prior.kinds) == pytest.approx(1)
    for kind in prior.kinds:
        for axis in (*kind.curve_axes, *kind.student_axes):
            assert sum(axis) == pytest.approx(1)
            assert min(axis) > 0


def test_the_posterior_is_a_share_of_kinds_and_of_curves() -> None:
    of_student, of_curves = posterior(student([True, False] * 20) + student([]), EVEN)
    assert of_student.sum() == pytest.approx(1)
    assert of_curves.sum(axis=-1) == pytest.approx(np.ones(of_curves.shape[:-1]))


def test_the_calibrated_span_holds_eight_in_ten_of_those_it_was_set_by() -> None:
    draw = np.random.default_rng(3)
    told = [np.sort(draw.integers(5, 15, 400)) for _ in range(300)]
    took = [int(wait) for wait in draw.integers(0, 40, 300)]  # far wider than told
    early, late = calibrate(EVEN, told, took).span
    held = [
        np.searchsorted(row, then, "left") + np.searchsorted(row, then, "right")
        for row, then in zip(told, took, strict=True)
    ]
    inside = np.mean([early * 800 <= place <= late * 800 for place in held])
    assert inside >= HELD
    assert (early, late) == (0.0, 1.0)  # more than one in ten lies before all that was told, and after
