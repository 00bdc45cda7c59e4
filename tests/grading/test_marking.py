"""Marking at its boundaries, and against the private test standards.

FAA-S-ACS-6C, Private Pilot Airplane, November 2023, as read in a copy of the official text.
"""

from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.marking import Marked, Place, Target, converted, deviation, propose_attempt, propose_grade
from lessons.scale import Help, Level


def target(quantity: str, value: int, over: int, under: int, unit: str) -> Target:
    return Target("on the landing line", quantity, D(value), D(over), D(under), unit)


# Common practice for a 1940s radial-engined tailwheel trainer; the tolerances are the school's.
LINE_SPEED = target("speed", 75, 10, 5, "kt")
LINE_HEIGHT = target("height", 150, 40, 30, "ft")
POINT = Target("at the touchdown", "distance", D(0), D(400), D(0), "ft")


@pytest.mark.parametrize(
    ("aim", "value", "place"),
    [
        (LINE_SPEED, 85, Place.INSIDE),  # PA.IV.B.S7: +10/-5 kt
        (LINE_SPEED, 86, Place.BEYOND),
        (LINE_SPEED, 95, Place.BEYOND),
        (LINE_SPEED, 96, Place.FAR_BEYOND),
        (LINE_SPEED, 70, Place.INSIDE),
        (LINE_SPEED, 69, Place.BEYOND),
        (LINE_SPEED, 64, Place.FAR_BEYOND),
        (POINT, 0, Place.INSIDE),  # PA.IV.B.S10: within 400 ft beyond or on the point
        (POINT, 400, Place.INSIDE),
        (POINT, 401, Place.BEYOND),
        (POINT, -1, Place.FAR_BEYOND),  # short is always a failure
        (target("height", 1000, 100, 100, "ft"), 1100, Place.INSIDE),  # PA.III.B.S5: 100 ft, 10 kt
        (target("height", 1000, 100, 100, "ft"), 899, Place.BEYOND),
        (target("speed", 95, 10, 5, "kt"), 90, Place.INSIDE),  # PA.IV.A.S13: Vy +10/-5 kt
        (target("speed", 95, 10, 5, "kt"), 89, Place.BEYOND),
    ],
)
def test_place_of_a_value(aim: Target, value: int, place: Place) -> None:
    assert deviation(aim, D(value)).place is place


def test_the_circuit_flown_exactly_stands_as_tapped() -> None:
    flown = Marked(Level.PERFORM, deviations=(deviation(LINE_SPEED, D(75)), deviation(LINE_HEIGHT, D(150))))
    assert propose_attempt(flown).sentence == "Perform: as tapped."


@pytest.mark.parametrize(
    ("marked", "level", "sentence"),
    [
        (Marked(Level.PERFORM, Help.PROMPTED), Level.PRACTICE, "Practice: with a prompt."),
        (Marked(Level.PERFORM, Help.ASSISTED), Level.PRACTICE, "Practice: with assistance."),
        (Marked(Level.PERFORM, Help.TOOK_CONTROL), Level.EXPLAIN, "Explain: the instructor took control."),
        (
            Marked(Level.PERFORM, critical_faults=("Ground loop",)),
            Level.PRACTICE,
            "Practice: ground loop, a critical fault.",
        ),
        (
            Marked(Level.PERFORM, deviations=(deviation(LINE_SPEED, D(90)),)),
            Level.PRACTICE,
            "Practice: speed on the landing line 15 kt fast, outside, within twice the tolerance.",
        ),
        (Marked(Level.DESCRIBE, Help.PROMPTED), Level.DESCRIBE, "Describe: as tapped."),
        (Marked(None), Level.NOT_OBSERVED, "Not observed."),
    ],
)
def test_caps(marked: Marked, level: Level, sentence: str) -> None:
    assert (propose_attempt(marked).level, propose_attempt(marked).sentence) == (level, sentence)


def test_the_grade_is_the_lower_of_the_last_two() -> None:
    low, high, unseen = Marked(Level.PRACTICE), Marked(Level.PERFORM), Marked(Level.NOT_OBSERVED)
    assert propose_grade([low, high, high]).level is Level.PERFORM
    assert propose_grade([high, high, low]).level is Level.PRACTICE
    assert propose_grade([high, low, high]).level is Level.PRACTICE
    assert propose_grade([low, high, unseen, high]).level is Level.PERFORM
    assert propose_grade([high]).level is Level.PERFORM
    assert propose_grade([unseen]).level is Level.NOT_OBSERVED


observed = st.sampled_from([level for level in Level if level.observed])
marked_attempts = st.builds(
    Marked,
    observed,
    st.sampled_from(Help),
    st.lists(st.just("x"), max_size=1).map(tuple),
    st.lists(st.integers(0, 200).map(lambda v: deviation(LINE_SPEED, D(v))), max_size=2).map(tuple),
)


@given(marked_attempts, st.integers(0, 60), st.integers(0, 60), st.sampled_from([1, -1]))
def test_a_worse_deviation_never_gives_a_better_grade(marked: Marked, a: int, b: int, side: int) -> None:
    near, far = sorted((a, b))

    def with_value(off: int) -> int:
        one = deviation(LINE_SPEED, D(75 + side * off))
        return propose_attempt(Marked(marked.level, marked.help, marked.critical_faults, (one,))).level.rank

    assert with_value(far) <= with_value(near)


@given(marked_attempts)
def test_a_proposal_never_raises_what_was_tapped_and_help_is_never_to_standard(marked: Marked) -> None:
    proposal = propose_attempt(marked)
    assert marked.level is not None
    assert proposal.level.rank <= marked.level.rank
    if marked.help is not Help.NONE or marked.critical_faults:
        assert proposal.level is not Level.PERFORM


@given(st.integers(-500, 500), st.sampled_from([("ft", "m"), ("kt", "km/h")]))
def test_units_convert_without_changing_a_grade(value: int, pair: tuple[str, str]) -> None:
    """1 ft = 0.3048 m and 1 NM = 1.852 km exactly, by international definition."""
    one, other = pair
    there = converted(D(value), one, other)
    aim = Target("g", "height" if one == "ft" else "speed", D(100), D(40), D(30), one)
    assert abs(converted(there, other, one) - value) < D("0.00001")
    if abs(deviation(aim, D(value)).amount) not in (D(40), D(30), D(80), D(60)):
        assert deviation(aim, D(value)).place is deviation(aim, there, other).place
