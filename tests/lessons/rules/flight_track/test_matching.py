"""Matching circuits of a track to tapped ones: known cases, and lessons at random."""

import numpy as np

from lessons.rules.flight_track.matching import MeasuredEnd, TappedEnd, match_circuits

ENDINGS = ["touch_and_go", "full_stop", "go_around"]


def tapped(*rows: tuple[int, str, float | None]) -> list[TappedEnd]:
    return [TappedEnd(*row) for row in rows]


def measured(*rows: tuple[str, float]) -> list[MeasuredEnd]:
    return [MeasuredEnd(*row) for row in rows]


def test_equal_lists_are_matched_in_order() -> None:
    times = [(ending, 300.0 * k) for k, ending in enumerate(["touch_and_go", "go_around", "unsure", "full_stop"])]
    rows = tapped((1, "touch_and_go", 20), (2, "go_around", 330), (3, "go_around", 640), (4, "full_stop", 930))
    assert match_circuits(rows, measured(*times)) == [1, 2, 3, 4]


def test_a_circuit_that_nobody_tapped_is_left_out() -> None:
    rows = tapped((1, "touch_and_go", 10), (2, "full_stop", 610))
    times = measured(("touch_and_go", 0), ("touch_and_go", 300), ("full_stop", 600))
    assert match_circuits(rows, times) == [1, None, 2]


def test_a_tapped_circuit_that_the_track_lacks_is_left_out() -> None:
    rows = tapped((1, "touch_and_go", None), (2, "go_around", None), (3, "full_stop", None))
    assert match_circuits(rows, measured(("touch_and_go", 0), ("full_stop", 600))) == [1, 3]


def test_nothing_on_either_side() -> None:
    assert match_circuits([], measured(("full_stop", 0))) == [None]
    assert match_circuits(tapped((1, "full_stop", None)), []) == []


def test_control_that_was_taken_may_have_ended_in_any_way() -> None:
    rows = tapped((1, "took_control", None), (2, "full_stop", None))
    assert match_circuits(rows, measured(("go_around", 0), ("full_stop", 300))) == [1, 2]


def test_lessons_at_random_are_matched_but_for_one_in_fifty() -> None:
    """Late taps, one circuit in twelve unsure, sometimes one missing on either side."""
    rng, right, wrong = np.random.default_rng(0), 0, 0
    for _ in range(200):
        count = int(rng.integers(4, 10))
        ends, endings = np.cumsum(rng.uniform(180, 330, count)), rng.choice(ENDINGS, count, p=[0.55, 0.25, 0.2])
        late = [float(rng.exponential(60 if rng.random() < 0.8 else 600)) for _ in range(count)]
        no_tap = int(rng.integers(count)) if rng.random() < 0.25 else -1
        no_track = int(rng.integers(count)) if rng.random() < 0.1 else -1
        rows = [TappedEnd(k, str(endings[k]), float(ends[k]) + late[k]) for k in range(count) if k != no_tap]
        flown = [k for k in range(count) if k != no_track]
        said = [str(endings[k]) if rng.random() > 0.08 else "unsure" for k in flown]
        found = match_circuits(rows, [MeasuredEnd(word, float(ends[k])) for word, k in zip(said, flown, strict=True)])
        right += sum(k == number for k, number in zip(flown, found, strict=True))
        wrong += sum(number not in (None, k) for k, number in zip(flown, found, strict=True))
    assert right > 1100
    assert wrong / (right + wrong) < 0.02
