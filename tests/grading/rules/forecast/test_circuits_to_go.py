"""The forecast: the same for the same history, monotone where it must be, no number where there is no progress."""

import pytest
from scipy import stats

from grading.rules.forecast import HORIZON, PartHistory, forecast_circuits, learning_curve, next_probability
from grading.rules.forecast.circuits_to_go import LEAST_CIRCUITS, _cached_forecast, _lucky_level
from grading.rules.forecast.courses import sample_waits
from grading.rules.forecast.curve import log_likelihood
from grading.rules.readiness.success_rules import Row, Share

NINE_OF_TEN = (Share(9, 10, 2),) * 3


def flown(outcomes: list[bool], circuits: int = 3) -> PartHistory:
    lessons = tuple(place // circuits + 1 for place in range(len(outcomes)))
    return PartHistory(tuple(outcomes), lessons, tuple(4 * lesson for lesson in lessons))


def test_the_same_history_gives_the_same_forecast() -> None:
    parts = [flown([False, True, False, True, True, False, True])] * 3
    told = forecast_circuits(parts, NINE_OF_TEN)
    for cached in (_cached_forecast, sample_waits, log_likelihood):
        cached.cache_clear()
    assert forecast_circuits(parts, NINE_OF_TEN) == told


def test_a_student_at_standard_needs_no_more_circuits() -> None:
    told = forecast_circuits([flown([True] * 12)] * 3, NINE_OF_TEN)
    assert (told.early, told.middle, told.late, told.stalled) == (0, 0, 0, False)


def test_a_better_history_is_never_told_longer() -> None:
    late = forecast_circuits([flown([False] * 9 + [True, False, True])] * 3, NINE_OF_TEN)
    soon = forecast_circuits([flown([False] * 4 + [True] * 8)] * 3, NINE_OF_TEN)
    assert (soon.middle or HORIZON) < (late.middle or HORIZON)


def test_each_part_is_waited_for_by_its_own_rule() -> None:
    parts = [flown([False] + [True] * 8)] * 3
    easy, hard = (forecast_circuits(parts, (Row(3, 2), Row(3, 2), landing)) for landing in (Row(3, 2), Row(14, 2)))
    assert easy.middle == 0
    assert hard.early >= 6


def test_the_span_lies_around_the_middle() -> None:
    told = forecast_circuits([flown([False, False, True, True, False, True, True, True, True])] * 3, NINE_OF_TEN)
    assert told.middle is not None
    assert told.early <= told.middle <= (told.late or HORIZON)
    assert told.words.startswith(f"about {told.middle} more circuits ({told.early} to ")


def test_a_student_without_progress_is_told_so_for_the_part_that_has_none() -> None:
    learned, stuck = flown([False] * 8 + [True] * 37), flown([place % 5 in (1, 3) for place in range(45)])
    told = forecast_circuits([learned, learned, stuck], NINE_OF_TEN)
    assert told.stalled
    assert told.without_progress[:2] == (0, 0)
    assert 30 <= told.without_progress[2] < 45


def test_a_student_on_the_way_is_told_a_number() -> None:
    rising = flown([place % 5 < place // 9 for place in range(45)])
    assert not forecast_circuits([rising] * 3, NINE_OF_TEN).stalled


def test_too_few_circuits_show_no_want_of_progress() -> None:
    few = flown([place % 5 in (1, 3) for place in range(LEAST_CIRCUITS - 1)])
    assert not forecast_circuits([few] * 3, NINE_OF_TEN).stalled


def test_a_level_at_which_a_rule_holds_by_luck_one_time_in_five() -> None:
    assert stats.binom.sf(8, 10, _lucky_level(Share(9, 10, 2))) == pytest.approx(0.2)
    assert _lucky_level(Row(3, 2)) ** 3 == pytest.approx(0.2)


def test_a_steady_student_is_told_about_that_share() -> None:
    """Ninety attempts at three in four to standard."""
    steady = flown([place % 4 != 3 for place in range(92)])
    assert next_probability(steady) == pytest.approx(0.75, abs=0.06)


def test_the_drawn_curve_rises_with_a_student_who_learned_and_ends_in_the_next_chance() -> None:
    part = flown([False] * 6 + [True] * 6)
    curve = learning_curve(part, 4)
    assert len(curve) == 16
    assert all(0 < chance < 1 for chance in curve)
    assert curve[1] < 0.4 < curve[11]
    assert curve[12] == pytest.approx(next_probability(part))
