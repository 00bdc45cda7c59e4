"""The level as which an attempt counts, in each case by itself and over all of them together."""

from itertools import product

import pytest

from grading.rules.counted_level import counted_level, part_taken_over
from grading.rules.readiness.facts import AttemptFact, CircuitFact, FaultFact, GateNumberFact
from lessons.rules.scale import Ending, Help, Level, Part

SLOW = GateNumberFact("final", "speed", -9, 10, 5, "kt")
SWERVE = FaultFact("swerve", "Swerve", critical=True)
LONG_FLARE = FaultFact("ballooned", "Ballooned", critical=False)


@pytest.mark.parametrize(
    ("attempt", "counted"),
    [
        (AttemptFact("landing", Level.PERFORM), Level.PERFORM),
        (AttemptFact("landing", Level.PERFORM, Help.PROMPTED), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, Help.ASSISTED), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, Help.TOOK_CONTROL), Level.EXPLAIN),
        (AttemptFact("landing", None, Help.TOOK_CONTROL), Level.EXPLAIN),
        (AttemptFact("landing", None, Help.PROMPTED), Level.NOT_OBSERVED),
        (AttemptFact("landing", Level.DESCRIBE, Help.TOOK_CONTROL), Level.DESCRIBE),
        (AttemptFact("landing", Level.PERFORM, faults=(SWERVE,)), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, faults=(LONG_FLARE,)), Level.PERFORM),
        (AttemptFact("landing", Level.PERFORM, not_done=("held",)), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, numbers=(SLOW,)), Level.PRACTICE),
        (AttemptFact("landing", Level.EXPLAIN, numbers=(SLOW,)), Level.EXPLAIN),
        # A number that the unit does not ask for yet lowers nothing.
        (AttemptFact("landing", Level.PERFORM, numbers=(GateNumberFact("final", "speed", -9, 10, 5, "kt", False),)),
         Level.PERFORM),
        # Kept by the instructor: against a number or a criterion, never against help or a critical fault.
        (AttemptFact("landing", Level.PERFORM, numbers=(SLOW,), kept="a gust at the gate"), Level.PERFORM),
        (AttemptFact("landing", Level.PERFORM, not_done=("held",), kept="traffic ahead"), Level.PERFORM),
        (AttemptFact("landing", Level.PERFORM, faults=(SWERVE,), kept="small one"), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, Help.PROMPTED, kept="hardly"), Level.PRACTICE),
        (AttemptFact("landing", Level.PERFORM, Help.TOOK_CONTROL, kept="hardly"), Level.EXPLAIN),
        (AttemptFact("landing"), Level.NOT_OBSERVED),
        (AttemptFact("landing", Level.NOT_OBSERVED), Level.NOT_OBSERVED),
    ],
)  # fmt: skip
def test_what_an_attempt_counts_as(attempt: AttemptFact, counted: Level) -> None:
    assert attempt.counted is counted


def test_nothing_ever_raises_a_level_and_only_a_kept_one_withstands() -> None:
    """Every combination: what is added to an attempt never lets it count as more."""
    flags = list(product((False, True), repeat=4))
    for tapped, help_, (critical, not_done, outside, kept) in product([None, *Level], Help, flags):
        given = {"critical": critical, "not_done": not_done, "outside": outside}
        counted = counted_level(tapped, help_, **given, kept=kept)
        if tapped is not None and tapped.observed:
            assert counted.rank <= tapped.rank
            assert (counted is tapped) or help_ is not Help.NONE or critical or not_done or outside
        if tapped is Level.PERFORM:
            lowered = help_ is not Help.NONE or critical or ((not_done or outside) and not kept)
            assert (counted is Level.PERFORM) is not lowered
        for name in given:
            worse = counted_level(tapped, help_, **given | {name: True}, kept=kept)
            assert worse.rank <= counted.rank


@pytest.mark.parametrize(
    ("ending", "helps", "part"),
    [
        (Ending.FULL_STOP, {Part.TAKEOFF: Help.NONE, Part.LANDING: Help.NONE}, None),
        # The circuit ended so, and no part says it: it was the last one flown.
        (
            Ending.TOOK_CONTROL,
            {Part.TAKEOFF: Help.NONE, Part.APPROACH: Help.NONE, Part.LANDING: Help.NONE},
            Part.LANDING,
        ),
        (Ending.TOOK_CONTROL, {Part.TAKEOFF: Help.NONE, Part.APPROACH: Help.PROMPTED}, Part.APPROACH),
        (Ending.TOOK_CONTROL, {Part.APPROACH: Help.TOOK_CONTROL, Part.LANDING: Help.NONE}, None),
        (Ending.TOOK_CONTROL, {}, None),
    ],
)
def test_a_circuit_that_ended_with_control_taken_has_a_part_that_was(
    ending: Ending, helps: dict[Part, Help], part: Part | None
) -> None:
    assert part_taken_over(ending, helps) is part


def test_no_circuit_is_both_taken_over_and_unaided() -> None:
    good = AttemptFact("landing", Level.PERFORM)
    taken = CircuitFact(1, Ending.TOOK_CONTROL, takeoff=good, landing=good).with_control_taken()
    assert taken.landing is not None
    assert taken.landing.counted is Level.EXPLAIN
    assert taken.takeoff == good
