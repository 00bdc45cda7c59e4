"""The sentence of a debrief and the order of its faults."""

import pytest

from grading.rules.debrief import FaultInLesson, PartResult, fault_order, good_words, headline
from lessons.rules.scale import Part


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ({}, ""),
        ({"takeoff": (6, 6), "landing": (6, 6)}, "every part to standard without help"),
        ({"takeoff": (6, 6), "landing": (6, 4)}, "all 6 takeoffs to standard without help"),
        (
            {"takeoff": (2, 2), "downwind": (1, 1), "approach": (3, 3), "landing": (2, 1)},
            "both takeoffs, the downwind leg and all 3 approaches to standard without help",
        ),
        ({"takeoff": (4, 1), "landing": (4, 3)}, "3 of 4 landings to standard without help"),
        ({"takeoff": (1, 0), "go_around": (1, 0)}, "nothing to standard without help yet"),
    ],
)
def test_what_was_good_is_said_of_whole_parts_first(counts: dict[str, tuple[int, int]], said: str) -> None:
    assert good_words([PartResult(Part(part), flown, good) for part, (flown, good) in counts.items()]) == said


@pytest.mark.parametrize(
    ("circuits", "good", "better", "said"),
    [
        (6, "all 6 takeoffs", "high on final", "6 circuits: all 6 takeoffs; to do better: high on final."),
        (1, "every part to standard", "", "1 circuit: every part to standard."),
        (0, "", "", "No circuits."),
        (0, "2 of 3 manoeuvres", "", "No circuits: 2 of 3 manoeuvres."),
    ],
)
def test_a_lesson_is_one_sentence(circuits: int, good: str, better: str, said: str) -> None:
    assert headline(circuits, good, better) == said


def test_the_first_fault_is_a_critical_one_then_the_most_frequent_then_the_later_in_the_circuit() -> None:
    often = FaultInLesson("often", "Often", critical=False, times=3, place=0)
    early = FaultInLesson("early", "Early", critical=False, times=2, place=1)
    late = FaultInLesson("late", "Late", critical=False, times=2, place=3)
    critical = FaultInLesson("critical", "Critical", critical=True, times=1, place=0)
    in_order = sorted([early, often, critical, late], key=fault_order, reverse=True)
    assert in_order == [critical, often, late, early]
