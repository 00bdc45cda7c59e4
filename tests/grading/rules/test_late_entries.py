"""When a tap was made is worked out from what passed on its device, never from the hour that the device shows.

That events of two devices without a common clock have only a partial order, given by the order on each device and by
what each had received from the other, is Lamport, "Time, Clocks, and the Ordering of Events in a Distributed
System", Communications of the ACM 21(7), 1978 (from memory).
"""

from datetime import UTC, datetime, timedelta

import pytest

from grading.rules.late_entries import clock_was_set_back, fields_of_same_entry, may_replace, moment_at_school

NOON = datetime(2026, 11, 29, 12, tzinfo=UTC)


@pytest.mark.parametrize("wrong", [timedelta(0), timedelta(days=365), timedelta(days=-365)])
def test_a_wrong_clock_changes_nothing(wrong: timedelta) -> None:
    tapped = NOON - timedelta(minutes=20) + wrong
    assert moment_at_school(received=NOON, sent=NOON + wrong, tapped=tapped) == NOON - timedelta(minutes=20)


def test_a_clock_set_back_since_the_tap_tells_nothing() -> None:
    assert moment_at_school(received=NOON, sent=NOON, tapped=NOON) == NOON
    assert moment_at_school(received=NOON, sent=NOON, tapped=NOON + timedelta(milliseconds=1)) is None
    assert moment_at_school(received=NOON, sent=None, tapped=NOON) is None
    assert moment_at_school(received=NOON, sent=NOON, tapped=None) is None
    year_one = datetime(1, 1, 1, tzinfo=UTC)
    assert moment_at_school(received=year_one, sent=NOON, tapped=year_one) is None


def test_taps_of_one_device_whose_clock_went_back_are_known_by_it() -> None:
    second = timedelta(seconds=1)
    assert not clock_was_set_back([NOON, None, NOON, NOON + second, NOON])
    assert clock_was_set_back([NOON, None, NOON - second - timedelta(milliseconds=1)])
    assert not clock_was_set_back([])


def test_only_a_tap_that_is_surely_newer_replaces_one_it_had_not_seen() -> None:
    assert may_replace(NOON + timedelta(milliseconds=1), NOON)
    assert not may_replace(NOON, NOON)
    assert not may_replace(None, NOON)


def test_control_taken_is_an_ending() -> None:
    both = ["circuit.2.ending", "circuit.2.took_control"]
    assert fields_of_same_entry("circuit.2.took_control") == fields_of_same_entry("circuit.2.ending") == both
    assert fields_of_same_entry("circuit.2.landing.level") == ["circuit.2.landing.level"]
    assert fields_of_same_entry("lesson.ending") == ["lesson.ending"]
