"""A reading of a track against its target: inside and outside only where the uncertainty leaves no doubt."""

import pytest

from grading.rules.flown import NumberTarget
from grading.rules.track_judgement import judge_reading
from lessons.rules.flight_track import Reading

ABEAM = NumberTarget("abeam", "height", "ft", 700, 100, 100)


@pytest.mark.parametrize(
    ("value", "error", "place"),
    [
        (700, 65, "inside"), (735, 65, "inside"), (736, 65, "unsure"), (665, 65, "inside"), (664, 65, "unsure"),
        (865, 65, "unsure"), (866, 65, "outside"), (535, 65, "unsure"), (534, 65, "outside"), (700, 101, "unsure"),
    ],
)  # fmt: skip
def test_the_uncertainty_is_held_against_both_edges(value: float, error: float, place: str) -> None:
    assert judge_reading(Reading("abeam", "height", value, error), ABEAM).place == place


def test_it_is_judged_in_the_unit_of_the_target() -> None:
    """700 ft are 213.36 m (1 ft = 0.3048 m exactly)."""
    metres = NumberTarget("abeam", "height", "m", 213.36, 30.48, 30.48)
    told = judge_reading(Reading("abeam", "height", 735, 65), metres)
    assert (round(told.value, 3), round(told.uncertainty, 3), told.place) == (224.028, 19.812, "inside")
    assert judge_reading(Reading("abeam", "height", 736, 65), metres).place == "unsure"
    speed = NumberTarget("final", "speed", "km/h", 126, 18, 9)
    assert judge_reading(Reading("final", "speed", 68, 4), speed).value == pytest.approx(125.936)
