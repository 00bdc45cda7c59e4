"""Days in texts move by the calendar; what only looks like a day stays. The project's own rule."""

from datetime import date

import pytest

from grading.simulation.demo.moved_days import move_days, move_report


@pytest.mark.parametrize(
    ("text", "moved"),
    [
        ("2026-11-28", "2026-12-08"),
        ('{"at":"2026-12-25T18:00:00Z"}', '{"at":"2027-01-04T18:00:00Z"}'),
        ("2028-02-20 08:00:00+00\t2027-02-20", "2028-03-01 08:00:00+00\t2027-03-02"),  # 2028 is a leap year
        ("since 25 December 2026, until 3 Jan 2027.", "since 4 January 2027, until 13 Jan 2027."),
        ("44b07fa1-9487-4020-898a-9f70e1af7b4e", "44b07fa1-9487-4020-898a-9f70e1af7b4e"),
        ("2026-13-01 TP-2026-11-28", "2026-13-01 TP-2026-11-28"),
    ],
)
def test_each_day_is_later_by_ten(text: str, moved: str) -> None:
    assert move_days(text, 10) == moved
    if moved != text:
        assert move_days(moved, -10) == text


def test_a_report_is_of_the_day_of_the_flight() -> None:
    assert move_report("ZZZZ 281250Z 07010KT 9999", date(2027, 3, 2)) == "ZZZZ 021250Z 07010KT 9999"
    assert move_report("ABCD 281250Z", date(2027, 3, 2)) == "ABCD 281250Z"
