"""When the attempts of one part are enough: every sequence, one by one, against a reading of the words by itself."""

from itertools import product

import pytest

from grading.rules.readiness import RequirementSpec
from grading.rules.readiness.success_rules import Row, Share, rule_of

NINE_OF_TEN = Share(good=9, last=10, lessons=2)
TEN = [tuple(row) for row in product((False, True), repeat=10)]


def over_two_lessons(row: tuple[bool, ...]) -> list[tuple[int, bool]]:
    """Return the first half as flown in lesson 1 and the rest in lesson 2."""
    return [(1 if place < len(row) / 2 else 2, good) for place, good in enumerate(row)]


def test_nine_of_ten_holds_for_ten_of_1024_sequences() -> None:
    """All good, or one miss that is not the newest: 1 + 9."""
    met = [row for row in TEN if NINE_OF_TEN.is_met(over_two_lessons(row))]
    assert len(met) == 10
    assert all(sum(row) >= 9 and row[-1] for row in met)


def test_the_fewest_more_is_the_first_of_so_many_good_ones_after_which_it_holds() -> None:
    """For all 1,024 sequences of ten: tried one by one, with the good ones in a third lesson."""
    for row in TEN:
        flown = over_two_lessons(row)
        more = next(
            n for n in range(11) if NINE_OF_TEN.is_met([*flown, *[(3 + place % 2, True) for place in range(n)]])
        )
        assert NINE_OF_TEN.fewest_more(flown) == more


def test_eight_of_ten_may_be_one_to_nine_away() -> None:
    """The ten slide on, so the distance depends on where the misses lie and not on how many they are."""
    eight = [row for row in TEN if sum(row) == 8 and row[-1]]
    assert {NINE_OF_TEN.fewest_more(over_two_lessons(row)) for row in eight} == set(range(1, 9))
    eight_newest_missed = [row for row in TEN if sum(row) == 8 and not row[-1]]
    assert {NINE_OF_TEN.fewest_more(over_two_lessons(row)) for row in eight_newest_missed} == set(range(1, 10))


@pytest.mark.parametrize("count", range(10))
def test_fewer_than_ten_attempts_are_no_nine_of_ten(count: int) -> None:
    assert not NINE_OF_TEN.is_met([(place % 2, True) for place in range(count)])
    assert NINE_OF_TEN.fewest_more([(place % 2, True) for place in range(count)]) == 10 - count


def test_ten_good_ones_in_one_lesson_need_one_in_another() -> None:
    flown = [(1, True)] * 10
    assert not NINE_OF_TEN.is_met(flown)
    assert NINE_OF_TEN.fewest_more(flown) == 1
    assert NINE_OF_TEN.is_met([*flown, (2, True)])


def test_the_lessons_of_a_share_are_those_of_its_good_attempts() -> None:
    assert not NINE_OF_TEN.is_met([(1, False), *[(2, True)] * 9])
    assert Share(9, 10, 1).is_met([(1, False), *[(2, True)] * 9])


def test_a_row_is_broken_by_one_miss_and_reaches_back_over_lessons() -> None:
    """Three in a row over two lessons: common practice."""
    row = Row(needed=3, lessons=2)
    for outcomes in product((False, True), repeat=6):
        flown = over_two_lessons(outcomes)
        length = len("".join("x" if good else " " for good in outcomes).split(" ")[-1])
        assert row.done(flown) == length
        # The second lesson has three attempts, so a row over both is at least four long.
        assert row.is_met(flown) == (length >= 4)
    assert row.fewest_more([(1, True), (1, True)]) == 1
    assert row.fewest_more([(1, True), (1, False)]) == 3
    assert row.fewest_more([(1, True)] * 5) == 1


def test_a_requirement_of_another_kind_sets_no_rule() -> None:
    def spec(check: str, **values: int) -> RequirementSpec:
        return RequirementSpec(
            "x", check, "X", "standard", "school", "the school's own", {"part": ("landing",), **values}
        )

    assert rule_of(spec("most_of_last", good=9, last=10, lessons=2)) == NINE_OF_TEN
    assert rule_of(spec("in_a_row", needed=3, lessons=2)) == Row(3, 2)
    assert rule_of(spec("no_take_over", circuits=10)) is None
