"""Marking at its boundaries, against the private test standards, and on a circuit flown well and badly.

FAA-S-ACS-6C, Private Pilot Airplane, November 2023, as read in a copy of the official text. Its tolerances are
those of a test for a licence: a scale to measure with, not what a first solo asks for.
"""

from dataclasses import replace
from decimal import Decimal as D
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.reading.grade_lines import GradingContext, target_in_wind
from grading.rules.marking import (
    Deviation,
    MarkedAttempt,
    Target,
    ToleranceBand,
    deviation_from_target,
    propose_attempt,
    propose_grade,
)
from lessons.models import Gate, GateTarget
from lessons.rules.scale import LEARNER_CENTRED, NOT_OBSERVED, Help, Level
from lessons.rules.units import convert
from lessons.rules.wind import Wind
from tests.lessons import circuit_figures

STEPS = {step.level: step for step in LEARNER_CENTRED.steps}


def target(quantity: str, value: int, over: int, under: int, unit: str) -> Target:
    return Target("on final", quantity, D(value), D(over), D(under), unit)


FLOWN = [
    Target(*aim)
    for aim in (
        *circuit_figures.TAKEOFF,
        *circuit_figures.CIRCUIT,
        *circuit_figures.APPROACH,
        *circuit_figures.LANDING,
    )
]
AIMS = {(aim.gate, aim.quantity): aim for aim in FLOWN}
FINAL_SPEED = AIMS["on final", "speed"]
POINT = AIMS["at the touchdown", "distance"]
# As the test standard has it: on the point that was named or beyond it.
NEVER_SHORT = target("distance", 0, 400, 0, "ft")

# Task and skill element; quantity, target, tolerance above and below, unit. Targets without a number in the
# standard (Vy, approach speed, glide speed, entry height) are those of the aeroplane: any will do.
TOLERANCES_OF_TEST_STANDARDS = [
    ("PA.III.B.S5 pattern", "height", 1000, 100, 100, "ft"),
    ("PA.III.B.S5 pattern", "speed", 90, 10, 10, "kt"),
    ("PA.IV.A Vy after takeoff", "speed", 95, 10, 5, "kt"),
    ("PA.IV.B.S7 normal approach", "speed", 75, 10, 5, "kt"),
    ("PA.IV.B.S10 touchdown", "distance", 0, 400, 0, "ft"),
    ("PA.IV.C soft-field climb", "speed", 70, 10, 5, "kt"),
    ("PA.IV.D.S7 soft-field approach", "speed", 70, 10, 5, "kt"),
    ("PA.IV.E short-field climb", "speed", 70, 10, 5, "kt"),
    ("PA.IV.F.S7 short-field approach", "speed", 70, 10, 5, "kt"),
    ("PA.IV.F.S10 short-field touchdown", "distance", 0, 200, 0, "ft"),
    ("PA.IV.M.S8 slip to a landing", "distance", 0, 400, 0, "ft"),
    ("PA.IV.N go-around climb", "speed", 80, 10, 5, "kt"),
    ("PA.V.A steep turn", "height", 3000, 100, 100, "ft"),
    ("PA.V.A steep turn", "speed", 95, 10, 10, "kt"),
    ("PA.V.A steep turn", "bank", 45, 5, 5, "deg"),
    ("PA.V.B ground reference", "height", 800, 100, 100, "ft"),
    ("PA.VII.A slow flight", "speed", 55, 10, 0, "kt"),
    ("PA.VII.A slow flight", "bank", 20, 10, 10, "deg"),
    ("PA.IX.A emergency descent", "speed", 120, 0, 10, "kt"),
    ("PA.IX.B.S1 best glide", "speed", 80, 10, 10, "kt"),
]


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("task", "quantity", "value", "over", "under", "unit"), TOLERANCES_OF_TEST_STANDARDS)
def test_on_the_tolerance_is_inside_and_past_it_is_not(
    task: str, quantity: str, value: int, over: int, under: int, unit: str, sign: int
) -> None:
    aim = Target(task, quantity, D(value), D(over), D(under), unit)
    tolerance = over if sign > 0 else under

    def place(off: D) -> ToleranceBand:
        return deviation_from_target(aim, value + sign * off).place

    assert place(D(0)) is ToleranceBand.INSIDE
    assert place(D(tolerance)) is ToleranceBand.INSIDE
    assert place(D(tolerance) + D("0.1")) is (ToleranceBand.BEYOND if tolerance else ToleranceBand.FAR_BEYOND)
    assert place(D(2 * tolerance)) is (ToleranceBand.BEYOND if tolerance else ToleranceBand.INSIDE)
    assert place(D(2 * tolerance) + D("0.1")) is ToleranceBand.FAR_BEYOND


@pytest.mark.parametrize(
    ("aim", "value", "words"),
    [
        (FINAL_SPEED, "68", "speed on final on target"),
        (FINAL_SPEED, "66", "speed on final 2 kt slow, inside"),
        (FINAL_SPEED, "59", "speed on final 9 kt slow, outside, within twice the tolerance"),
        (FINAL_SPEED, "88.5", "speed on final 20.5 kt fast, outside, more than twice the tolerance"),
        (POINT, "1200", "distance at the touchdown 700 ft past the target, outside, more than twice the tolerance"),
        (POINT, "-10", "distance at the touchdown 510 ft short of the target, outside, within twice the tolerance"),
        (NEVER_SHORT, "-10", "distance on final 10 ft short of the target, outside, no tolerance on this side"),
        (target("height", 150, 40, 30, "ft"), "190", "height on final 40 ft high, inside"),
        (target("height", 150, 40, 30, "ft"), "149", "height on final 1 ft low, inside"),
        (target("bank", 30, 5, 5, "deg"), "33", "bank on final 3° steep, inside"),
        (target("bank", 30, 5, 5, "deg"), "27", "bank on final 3° shallow, inside"),
        (target("centreline", 0, 5, 5, "m"), "2", "centreline on final 2 m right, inside"),
        (target("centreline", 0, 5, 5, "m"), "-2", "centreline on final 2 m left, inside"),
    ],
)
def test_a_deviation_in_words(aim: Target, value: str, words: str) -> None:
    assert deviation_from_target(aim, D(value)).words == words


def test_an_approach_speed_grows_by_half_the_gust_factor() -> None:
    """PA.IV.B.S7: +10/-5 kt with gust factor applied. 75 kt in 10 gusting 25 kt is 82.5 kt."""
    gate = Gate(name="Final", leg="final")
    row = GateTarget(gate=gate, quantity="speed", value=D(75), over=D(10), under=D(5), unit="kt")
    gusts = Wind(180, 10, 25)
    assert target_in_wind(row, GradingContext(gusts)).value == 75
    row.wind_rule = "half_gust"
    assert target_in_wind(row, GradingContext(gusts)).value == D("82.5")
    assert target_in_wind(row, GradingContext(Wind(180, 25))).value == 75
    assert deviation_from_target(target_in_wind(row, GradingContext(gusts)), D("77.5")).place is ToleranceBand.INSIDE
    assert deviation_from_target(target_in_wind(row, GradingContext(gusts)), D(77)).place is ToleranceBand.BEYOND


def test_a_target_without_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="not a quantity"):
        target("mood", 1, 1, 1, "kt")
    with pytest.raises(ValueError, match="tolerance is not negative"):
        target("speed", 75, 10, -5, "kt")
    with pytest.raises(ValueError, match="tolerance is not negative"):
        target("speed", 75, -10, 5, "kt")
    with pytest.raises(ValueError, match="cannot be converted"):
        deviation_from_target(FINAL_SPEED, D(75), "ft")


def test_the_circuit_flown_exactly_stands_as_tapped() -> None:
    exact = tuple(deviation_from_target(aim, aim.value) for aim in FLOWN)
    assert {row.place for row in exact} == {ToleranceBand.INSIDE}
    assert propose_attempt(MarkedAttempt(STEPS[Level.PERFORM], deviations=exact)).sentence == "Perform: as tapped."


# One number of the circuit wrong by so much: 60 ft low is twice the 30 ft, 9 kt fast is inside 10, slow is not.
FLOWN_BADLY = [
    ("on final", "speed", 9, ToleranceBand.INSIDE),
    ("on final", "speed", 11, ToleranceBand.BEYOND),
    ("on final", "speed", -9, ToleranceBand.BEYOND),
    ("on final", "speed", -11, ToleranceBand.FAR_BEYOND),
    ("on final", "height", -60, ToleranceBand.BEYOND),
    ("on final", "height", -61, ToleranceBand.FAR_BEYOND),
    ("on final", "height", 81, ToleranceBand.FAR_BEYOND),
    ("at the gliding turn", "speed", -6, ToleranceBand.BEYOND),
    ("abeam the point", "height", -101, ToleranceBand.BEYOND),
    ("at joining", "speed", 21, ToleranceBand.FAR_BEYOND),
    ("at wheels up", "height", -21, ToleranceBand.BEYOND),
    ("at the first turn", "height", -51, ToleranceBand.BEYOND),
    ("at the round-out", "height", 16, ToleranceBand.BEYOND),
    ("at the touchdown", "distance", -501, ToleranceBand.BEYOND),
    ("at the touchdown", "distance", 300, ToleranceBand.INSIDE),
    ("at the touchdown", "distance", 301, ToleranceBand.BEYOND),
]


@pytest.mark.parametrize(("gate", "quantity", "off", "place"), FLOWN_BADLY)
def test_the_circuit_flown_badly_in_one_way(gate: str, quantity: str, off: int, place: ToleranceBand) -> None:
    wrong = AIMS[gate, quantity]
    flown = tuple(deviation_from_target(aim, aim.value + (off if aim is wrong else 0)) for aim in FLOWN)
    assert [row.place for row in flown if row.target is wrong] == [place]
    proposal = propose_attempt(MarkedAttempt(STEPS[Level.PERFORM], deviations=flown))
    if place is ToleranceBand.INSIDE:
        assert proposal.sentence == "Perform: as tapped."
    else:
        assert proposal.level is Level.PRACTICE
        assert proposal.sentence == f"Practice: {deviation_from_target(wrong, wrong.value + off).words}."


def test_the_circuit_descends_and_slows_to_the_point() -> None:
    def values(quantity: str, aims: tuple[circuit_figures.GateFigure, ...]) -> list[D]:
        return [aim.value for aim in aims if aim.quantity == quantity]

    down = (*circuit_figures.CIRCUIT, *circuit_figures.APPROACH, *circuit_figures.LANDING)
    assert values("height", down) == sorted(values("height", down), reverse=True)
    assert values("speed", down) == sorted(values("speed", down), reverse=True)
    assert values("height", circuit_figures.TAKEOFF) == sorted(values("height", circuit_figures.TAKEOFF))


SLOW = deviation_from_target(FINAL_SPEED, D(59))
SHORT = deviation_from_target(NEVER_SHORT, D(-50))


@pytest.mark.parametrize(
    ("marked", "sentence"),
    [
        (MarkedAttempt(STEPS[Level.PERFORM], Help.PROMPTED), "Practice: with a prompt."),
        (MarkedAttempt(STEPS[Level.PERFORM], Help.ASSISTED), "Practice: with assistance."),
        (MarkedAttempt(STEPS[Level.PERFORM], Help.TOOK_CONTROL), "Explain: the instructor took control."),
        (MarkedAttempt(STEPS[Level.PRACTICE], Help.TOOK_CONTROL), "Explain: the instructor took control."),
        (
            MarkedAttempt(STEPS[Level.PERFORM], critical_faults=("Ground loop",)),
            "Practice: ground loop, a critical fault.",
        ),
        (
            MarkedAttempt(STEPS[Level.PERFORM], Help.PROMPTED, deviations=(SLOW, SHORT)),
            "Practice: with a prompt; distance on final 50 ft short of the target, outside, no tolerance on this side; "
            "speed on final 9 kt slow, outside, within twice the tolerance.",
        ),
        (MarkedAttempt(STEPS[Level.PRACTICE], Help.PROMPTED, deviations=(SLOW,)), "Practice: as tapped."),
        (MarkedAttempt(STEPS[Level.EXPLAIN], Help.TOOK_CONTROL), "Explain: as tapped."),
        (MarkedAttempt(STEPS[Level.DESCRIBE], Help.TOOK_CONTROL, ("Bounced",)), "Describe: as tapped."),
        (MarkedAttempt(None, Help.PROMPTED), "Not observed."),
        (MarkedAttempt(NOT_OBSERVED), "Not observed."),
    ],
)
def test_a_proposal_in_words(marked: MarkedAttempt, sentence: str) -> None:
    proposal = propose_attempt(marked)
    assert proposal.sentence == sentence
    assert proposal.level.label == sentence.rstrip(".").split(":")[0]


PRACTICE, PERFORM, UNSEEN = (
    MarkedAttempt(STEPS[Level.PRACTICE]),
    MarkedAttempt(STEPS[Level.PERFORM]),
    MarkedAttempt(NOT_OBSERVED),
)


@pytest.mark.parametrize(
    ("flown", "sentence"),
    [
        ([], "Not observed in this lesson."),
        ([UNSEEN, MarkedAttempt(None)], "Not observed in this lesson."),
        ([PERFORM], "Perform: as tapped."),
        ([UNSEEN, PERFORM, UNSEEN], "Perform: as tapped."),
        ([PRACTICE, PERFORM, PERFORM], "Perform: as tapped (the lower of the last two)."),
        ([PERFORM, PERFORM, PRACTICE], "Practice: as tapped (the lower of the last two)."),
        ([PERFORM, PRACTICE, PERFORM], "Practice: as tapped (the lower of the last two)."),
        ([PRACTICE, PERFORM, UNSEEN, PERFORM], "Perform: as tapped (the lower of the last two)."),
        (
            [PERFORM, replace(PERFORM, help=Help.PROMPTED), PERFORM],
            "Practice: with a prompt (the lower of the last two).",
        ),
    ],
)
def test_the_grade_of_a_lesson_in_words(flown: list[MarkedAttempt], sentence: str) -> None:
    assert propose_grade(flown).sentence == sentence


# Properties.

tenths = st.decimals(-400, 400, places=1)
tolerances = st.decimals(0, 60, places=1)
targets = st.builds(
    lambda value, over, under: Target("at the gate", "speed", value, over, under, "kt"), tenths, tolerances, tolerances
)
deviations = st.builds(deviation_from_target, targets, tenths)
observed = st.builds(
    MarkedAttempt,
    st.sampled_from(LEARNER_CENTRED.steps),
    st.sampled_from(Help),
    st.lists(st.sampled_from(["Bounced", "Ground loop"]), max_size=2).map(tuple),
    st.lists(deviations, max_size=3).map(tuple),
)
seen_by_nobody = [word for word in Help if word is not Help.TOOK_CONTROL]
unseen = st.builds(MarkedAttempt, st.sampled_from([None, NOT_OBSERVED]), st.sampled_from(seen_by_nobody))


def rank(*flown: MarkedAttempt) -> int:
    return propose_grade(flown).level.rank


@given(targets, tenths, tenths)
def test_farther_on_the_same_side_is_never_a_better_place(aim: Target, one: D, other: D) -> None:
    near, far = sorted((abs(one), abs(other)))
    for sign in (1, -1):
        assert (
            deviation_from_target(aim, aim.value + sign * far).place.rank
            >= deviation_from_target(aim, aim.value + sign * near).place.rank
        )


@given(observed, deviations, st.sampled_from(["Drifted", "Swerved"]), st.sampled_from(Help))
def test_nothing_worse_gives_a_better_proposal(marked: MarkedAttempt, more: Deviation, fault: str, other: Help) -> None:
    helped = max(marked.help, other, key=lambda word: word.rank)
    for worse in (
        replace(marked, deviations=(*marked.deviations, more)),
        replace(marked, critical_faults=(*marked.critical_faults, fault)),
        replace(marked, help=helped),
    ):
        assert rank(worse) <= rank(marked)


@given(observed, targets, tenths, tenths)
def test_a_worse_value_never_gives_a_better_proposal(marked: MarkedAttempt, aim: Target, one: D, other: D) -> None:
    near, far = sorted((abs(one), abs(other)))
    for sign in (1, -1):
        better, worse = (
            replace(marked, deviations=(*marked.deviations, deviation_from_target(aim, aim.value + sign * off)))
            for off in (near, far)
        )
        assert rank(worse) <= rank(better)


@given(observed)
def test_a_proposal_only_lowers_what_was_tapped(marked: MarkedAttempt) -> None:
    assert marked.step is not None
    to_standard = (
        marked.help is Help.NONE
        and not marked.critical_faults
        and all(row.place is ToleranceBand.INSIDE for row in marked.deviations)
    )
    if to_standard:
        assert propose_attempt(marked).step is marked.step
    else:
        assert 0 < rank(marked) <= min(marked.step.level.rank, Level.PRACTICE.rank)


@given(observed, observed)
def test_taking_control_in_either_of_the_last_two_is_never_to_standard(
    one: MarkedAttempt, other: MarkedAttempt
) -> None:
    taken = replace(other, help=Help.TOOK_CONTROL)
    assert rank(one, taken) <= Level.EXPLAIN.rank
    assert rank(taken, one) <= Level.EXPLAIN.rank


@given(observed)
def test_the_order_within_an_attempt_does_not_matter_to_its_level(marked: MarkedAttempt) -> None:
    turned = replace(marked, deviations=marked.deviations[::-1], critical_faults=marked.critical_faults[::-1])
    assert rank(turned) == rank(marked)


@given(st.lists(observed, max_size=4), observed, observed)
def test_only_the_last_two_count_and_they_count_alike(
    before: list[MarkedAttempt], one: MarkedAttempt, last: MarkedAttempt
) -> None:
    assert rank(*before, one, last) == min(rank(one), rank(last)) == rank(*before, last, one)


@given(st.lists(observed, min_size=1, max_size=4), unseen, st.integers(0, 4))
def test_not_observed_changes_nothing_wherever_it_stands(
    flown: list[MarkedAttempt], gap: MarkedAttempt, where: int
) -> None:
    assert propose_grade([*flown[:where], gap, *flown[where:]]) == propose_grade(flown)


@given(tenths, tenths, tolerances, tolerances, st.sampled_from([("height", "ft", "m"), ("speed", "kt", "km/h")]))
def test_the_unit_never_changes_a_place(value: D, aim: D, over: D, under: D, kind: tuple[str, str, str]) -> None:
    """Also on the tolerance itself, whichever side is converted: no value is left out."""
    quantity, unit, other = kind
    here = Target("at the gate", quantity, aim, over, under, unit)
    factor = D("0.3048") if unit == "ft" else D("1.852")  # exact by definition, see lessons/rules/units.py
    there = Target("at the gate", quantity, aim * factor, over * factor, under * factor, other)
    for noted in (value, aim, aim + over, aim - under, aim + 2 * over, aim - 2 * under):
        places = {
            deviation_from_target(here, noted).place,
            deviation_from_target(here, noted * factor, other).place,
            deviation_from_target(there, noted, unit).place,
            deviation_from_target(there, noted * factor).place,
        }
        assert len(places) == 1


def test_a_hair_past_the_tolerance_in_another_unit_is_outside() -> None:
    """78.0000001 kt in km/h: rounding to any digit a person reads would put it inside 68 + 10."""
    noted = D("78.0000001") * D("1.852")
    found = deviation_from_target(FINAL_SPEED, noted, "km/h")
    assert found.place is ToleranceBand.BEYOND
    assert found.words == "speed on final 10.1 kt fast, outside, within twice the tolerance"


@given(st.decimals(-2000, 2000, places=3), st.sampled_from(["kt", "km/h"]))
def test_the_number_said_never_contradicts_the_place(value: D, unit: str) -> None:
    found = deviation_from_target(FINAL_SPEED, value, unit)
    assert found.amount == convert(value, unit, "kt") - 68
    if found.amount == 0:
        assert found.words.endswith("on target")
        return
    said = Fraction(found.words.split(" kt ")[0].split()[-1].replace(",", ""))
    assert said > 0
    assert (said <= found.tolerance, said <= 2 * found.tolerance) == (
        found.place is ToleranceBand.INSIDE,
        found.place is not ToleranceBand.FAR_BEYOND,
    )


def test_words_that_several_pages_show_are_written_once() -> None:
    """Fast and slow, yesterday, the group of a student: a second table would drift from the first."""
    root = Path(__file__).parents[3]
    sources = [path for name in ("grading", "lessons", "school") for path in (root / name).rglob("*.py")]
    for words, place in (
        ('("fast", "slow")', "gate_words.py"),
        ('"yesterday"', "wording.py"),
        ('return "decision"', "student_summary.py"),
    ):
        assert [path.name for path in sources if words in path.read_text()] == [place]
