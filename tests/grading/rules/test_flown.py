"""A circuit told from its numbers: worst gates, the touchdown, the line between two gates.

The targets are those of the invented tailwheel type (fixtures/aircraft/tailwheel.json).
"""

import pytest

from grading.rules.flown import (
    FlownCircuit,
    GatePlace,
    NumberTarget,
    Pattern,
    amount_words,
    circuit_sentence,
    height_between,
    lesson_sentence,
    worst_gates,
)

PATTERN = Pattern(
    (
        GatePlace(1, "abeam", "Abeam the point", "abeam the point", "downwind", 19_900),
        GatePlace(2, "turn", "The gliding turn", "at the gliding turn", "base", 23_550),
        GatePlace(3, "final", "Final", "on final", "final", 25_600),
        GatePlace(4, "touchdown", "The touchdown", "at the touchdown", "final", 27_200),
    ),
    (
        NumberTarget("abeam", "height", "ft", 700, 100, 100),
        NumberTarget("turn", "height", "ft", 380, 60, 40),
        NumberTarget("turn", "bank", "deg", 22, 8, 10),
        NumberTarget("final", "height", "ft", 180, 40, 30),
        NumberTarget("final", "speed", "kt", 68, 10, 5),
        NumberTarget("touchdown", "distance", "ft", 500, 300, 500),
    ),
)


def circuit(ending: str = "full_stop", **amounts: float) -> FlownCircuit:
    """Numbers by how far they lie from their targets, `final_speed=9`."""
    by_key = {name.replace("_", "."): amount for name, amount in amounts.items()}
    targets = {row.key: row for row in PATTERN.targets}
    outside = {key for key, off in by_key.items() if not -targets[key].under <= off <= targets[key].over}
    values = {key: targets[key].value + off for key, off in by_key.items()}
    return FlownCircuit(1, 3, ending, values, by_key, frozenset(outside))


@pytest.mark.parametrize(
    ("flown", "said"),
    [
        # Shares of the tolerance: abeam 1.2, the turn 71/40, final 67/30 in height and 1.1 in speed.
        (
            circuit(abeam_height=120, turn_height=-71, final_height=-67, final_speed=11, touchdown_distance=30),
            "71 ft low at the gliding turn, 67 ft low on final; touchdown 530 ft past the aiming point, inside.",
        ),
        (
            circuit(final_height=41, final_speed=20, touchdown_distance=-620),
            "20 kt fast on final; touchdown 120 ft before the aiming point, outside.",
        ),
        (circuit(final_height=40, touchdown_distance=-500), "inside at every gate that was noted; touchdown on the"),
        (circuit(turn_bank=9.5), "9.5° steep at the gliding turn; the touchdown was not noted."),
        (circuit("go_around", final_height=0), "inside at every gate that was noted; a go-around."),
        (circuit("took_control"), "no number was noted before the touchdown; the instructor took control."),
        (circuit(touchdown_distance=1000), "no number was noted before the touchdown; touchdown 1,500 ft past the"),
    ],
)
def test_the_sentence_of_a_circuit(flown: FlownCircuit, said: str) -> None:
    assert circuit_sentence(flown, PATTERN).startswith(f"Circuit 3: {said}")


def test_a_gate_is_named_once_by_its_worst_number() -> None:
    (worst,) = worst_gates(circuit(final_height=41, final_speed=20), PATTERN)
    assert (worst.words, worst.share) == ("20 kt fast", 2)


def test_of_a_side_without_tolerance_any_number_is_the_worst() -> None:
    pattern = Pattern(PATTERN.gates, (NumberTarget("abeam", "height", "ft", 700, 0, 100), *PATTERN.targets[1:]))
    flown = circuit(abeam_height=101, turn_height=-71, final_height=-67)
    assert [row.gate.code for row in worst_gates(flown, pattern)] == ["abeam", "final"]


def test_a_number_on_its_target_is_on_target() -> None:
    assert amount_words(0, PATTERN.targets[0]) == "on target"
    assert amount_words(-1500, PATTERN.targets[-1]) == "1,500 ft short of the target"


def test_the_lesson_counts_what_was_inside_and_names_what_was_outside_most_often() -> None:
    circuits = [circuit(final_height=50), circuit(final_height=45, final_speed=0), circuit(final_speed=20)]
    said = "3 circuits: 1 of 4 numbers inside; most often outside: height on final, 2 of 2."
    assert lesson_sentence(circuits, PATTERN) == said
    assert lesson_sentence([circuit(final_height=1)], PATTERN) == "1 circuit: the one number inside."
    assert lesson_sentence([circuit()], PATTERN) == "1 circuit: no number was noted at a gate."
    assert lesson_sentence([], PATTERN) == "No circuit was flown in this lesson."


@pytest.mark.parametrize(
    ("along", "height"),
    # A straight line by similar triangles: half way from 700 ft to 380 ft it is at 540 ft.
    [(19_900, 700), ((19_900 + 23_550) / 2, 540), (23_550, 380), (24_000, None), (18_000, None), (27_000, None)],
)
def test_between_two_gates_the_height_is_that_of_the_line(along: float, height: float | None) -> None:
    assert height_between(circuit(abeam_height=0, turn_height=0), PATTERN, along) == height
