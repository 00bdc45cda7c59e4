"""The curve: a likelihood that equals its definition, practice that the gaps take away, chances between 0 and 1."""

import math

import numpy as np
import pytest

from grading.rules.forecast.curve import (
    DAY_NODES,
    DAY_SPREADS,
    DAY_WEIGHTS,
    LOSSES,
    PartHistory,
    chances,
    grid,
    log_likelihood,
    practice,
)

FLOWN = PartHistory((False, True, True, False, True), (1, 1, 2, 2, 2), (10, 10, 17, 17, 17))


def test_practice_is_lost_over_the_days_between_lessons_and_never_within_one() -> None:
    assert practice(FLOWN.lessons, FLOWN.days, 0.0).tolist() == [1, 2, 3, 4, 5]
    kept = math.exp(-7 / 20)
    expected = [1, 2, 2 * kept + 1, 2 * kept + 2, 2 * kept + 3]
    assert practice(FLOWN.lessons, FLOWN.days, 1 / 20).tolist() == pytest.approx(expected)


def test_every_curve_is_a_chance_and_none_falls_with_practice() -> None:
    chance = chances(grid(), np.arange(1.0, 200.0)[None])
    assert ((chance > 0) & (chance < 1)).all()
    assert (np.diff(chance, axis=1) >= -1e-12).all()


def test_the_nodes_of_a_day_are_those_of_the_library() -> None:
    nodes, weights = np.polynomial.hermite_e.hermegauss(3)
    assert pytest.approx(nodes) == DAY_NODES
    assert pytest.approx(weights / weights.sum()) == DAY_WEIGHTS


@pytest.mark.parametrize("point", [0, 333, 1199])
def test_the_likelihood_is_the_product_of_the_chances_averaged_over_each_day(point: int) -> None:
    for row, spread in enumerate(DAY_SPREADS):
        for column, loss in enumerate(LOSSES):
            usual = chances(grid()[:, [point]], practice(FLOWN.lessons, FLOWN.days, float(loss))[None])[0]
            expected = 0.0
            for places in ([0, 1], [2, 3, 4]):
                of_day = 0.0
                for node, weight in zip(DAY_NODES, DAY_WEIGHTS, strict=True):
                    logits = np.log(usual / (1 - usual)) + spread * node
                    good = 1 / (1 + np.exp(-logits))
                    of_day += weight * math.prod(good[at] if FLOWN.outcomes[at] else 1 - good[at] for at in places)
                expected += math.log(of_day)
            assert log_likelihood(FLOWN)[row, column, point] == pytest.approx(expected)


def test_nothing_flown_says_nothing() -> None:
    assert not log_likelihood(PartHistory()).any()
