"""14 CFR 61.195(a): no more than 8 hours of flight training in any 24 consecutive hours (eCFR text, read in a copy)."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.rules.instructor_limits import WINDOW, ExcessPeriod, TrainingPeriod, find_excesses, find_worst_window

MIDNIGHT = datetime(2026, 6, 10, tzinfo=UTC)


def given_training(begin_minute: int, minutes: int, name: str = "") -> TrainingPeriod:
    begin = MIDNIGHT + timedelta(minutes=begin_minute)
    return TrainingPeriod(begin, begin + timedelta(minutes=minutes), minutes, name)


def test_exactly_eight_hours_are_allowed_and_a_minute_more_is_not() -> None:
    day = [given_training(6 * 60 + hour * 90, 60) for hour in range(8)]
    assert find_worst_window(day) is None
    more = find_worst_window([*day[:-1], given_training(6 * 60 + 7 * 90, 61)])
    assert more is not None
    assert more.minutes == 481


def test_the_window_rolls_over_midnight() -> None:
    """Five hours in the evening and four the next morning: neither day has more than five."""
    evening, morning = given_training(18 * 60, 300), given_training(32 * 60, 240)
    found = find_worst_window([evening, morning])
    assert found is not None
    assert (found.minutes, found.lessons) == (540, (evening, morning))
    assert find_worst_window([evening, given_training(18 * 60 + 300 + 24 * 60, 240)]) is None


def test_a_lesson_only_partly_in_the_window_counts_by_its_part() -> None:
    found = find_worst_window(
        [given_training(0, 300), given_training(23 * 60, 300)]
    )  # the best window holds 5 h and 1 h, or less
    assert found is None
    assert find_worst_window([given_training(0, 300), given_training(20 * 60, 300)]) is not None  # 5 h and 4 h


def test_training_of_a_part_of_the_block_time_counts_as_that_much() -> None:
    half = TrainingPeriod(MIDNIGHT, MIDNIGHT + timedelta(hours=10), 300)
    assert find_worst_window([half, given_training(11 * 60, 180)]) is None
    assert find_worst_window([half, given_training(11 * 60, 181)]) is not None


def test_two_stretches_are_two_findings() -> None:
    lessons = [given_training(0, 500), given_training(5 * 24 * 60, 500), given_training(9 * 24 * 60, 100)]
    assert [found.minutes for found in find_excesses(lessons)] == [500, 500]


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 70), st.integers(1, 6)), max_size=9))
def test_no_window_of_whole_hours_holds_more_than_the_worst(hours: list[tuple[int, int]]) -> None:
    """Brute force over every window that begins on the hour, where all lessons begin and end on the hour."""
    lessons = [given_training(begin * 60, long * 60) for begin, long in hours]
    most = max(
        (
            sum(row.minutes_within(begin, begin + WINDOW) for row in lessons)
            for begin in (MIDNIGHT + timedelta(hours=hour) for hour in range(-30, 90))
        ),
        default=0,
    )
    found = find_worst_window(lessons)
    assert (found is not None) == (most > 480)
    assert found is None or found.minutes == pytest.approx(most)


def test_a_worse_day_near_by_does_not_hide_the_one_of_this_lesson() -> None:
    this, before, after = given_training(10 * 60, 60), given_training(0, 480), given_training(31 * 60, 600)
    assert find_worst_window([this, before, after]).minutes == 600  # type: ignore[union-attr]
    found = find_worst_window([this, before, after], around=this)
    assert found is not None
    assert found.minutes == 540


def test_a_day_that_only_touches_a_worse_one_is_listed_too() -> None:
    assert [found.minutes for found in find_excesses([given_training(0, 540), given_training(22 * 60, 510)])] == [
        660,
        510,
    ]


def excesses_by_definition(lessons: list[TrainingPeriod]) -> list[ExcessPeriod]:
    """The same without leaving out what is far from too much."""
    found, left = [], list(lessons)
    while (excess := find_worst_window(left)) is not None:
        found.append(excess)
        taken = {row for row in excess.lessons if row.end <= excess.end} or set(excess.lessons)
        left = [row for row in left if row not in taken]
    return sorted(found, key=lambda row: row.begin)


@settings(max_examples=300)
@given(st.lists(st.tuples(st.integers(0, 9000), st.integers(10, 400)), max_size=24, unique=True))
def test_looking_only_where_much_was_given_finds_the_same(drawn: list[tuple[int, int]]) -> None:
    lessons = [given_training(begin, minutes) for begin, minutes in drawn]
    assert [(e.begin, e.minutes) for e in find_excesses(lessons)] == [
        (e.begin, e.minutes) for e in excesses_by_definition(lessons)
    ]
