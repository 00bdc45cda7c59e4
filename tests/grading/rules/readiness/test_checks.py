"""Each requirement at its boundary.

Regulations as read in a copy of the eCFR of August and September 2026. Three in a row is common practice.
"""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from grading.rules.readiness import Facts, StandardError, StandardSpec, State, assess, medical_expiry
from grading.rules.readiness.dates import age_on
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    CircuitFact,
    FaultFact,
    GateNumberFact,
    KnowledgeTestFact,
    LessonFact,
    PaperFact,
    SetAsideFact,
    StudentFact,
)
from grading.rules.readiness.json_format import standard_from_json
from lessons.rules.scale import Ending, Help, Level, UnitKind

FOLDER = Path(__file__).parents[4] / "fixtures/standards"
US = standard_from_json((FOLDER / "us.json").read_text())
EU = standard_from_json((FOLDER / "eu.json").read_text())
# As published until 28 November 2026: three in a row, and the next number at a gate as likely inside as 80 %.
EARLIER_US = standard_from_json((Path(__file__).parents[3] / "standards/us-2025.json").read_text())
DAY = date(2026, 6, 11)
TYPE = AircraftTypeFact("t1", "Type One", tailwheel=True)
GOOD, HELPED = AttemptFact("landing", Level.PERFORM), AttemptFact("landing", Level.PERFORM, Help.PROMPTED)
UNSEEN = AttemptFact("landing", Level.NOT_OBSERVED)


def lesson(number: int, on: date, *landings: AttemptFact, **more: object) -> LessonFact:
    circuits = tuple(CircuitFact(i, Ending.FULL_STOP, landing=row) for i, row in enumerate(landings, 1))
    fields: dict = {"instructor": "Bert", "signed": on, "aircraft_type": "t1", "circuits": circuits} | more
    return LessonFact(number, on, **fields)


def facts(*lessons: LessonFact, **more: object) -> Facts:
    return Facts(StudentFact("Dora", date(2000, 5, 5)), TYPE, lessons=lessons, **more)  # type: ignore[arg-type]


def outcome(key: str, given_facts: Facts, on: date = DAY, standard: StandardSpec = US):
    return next(row for row in assess(given_facts, standard, on).requirements if row.key == key)


EARLIER = DAY - timedelta(days=2)


@pytest.mark.parametrize(
    ("first", "second", "state", "how_far"),
    [
        ([], [GOOD, GOOD], State.OPEN, "2 of 3"),
        ([GOOD], [GOOD, GOOD], State.MET, "3 in a row"),
        ([], [GOOD, GOOD, GOOD], State.OPEN, "3 in a row, but all in one lesson"),
        ([GOOD], [GOOD, HELPED, GOOD], State.OPEN, "1 of 3"),
        ([GOOD], [GOOD, UNSEEN, GOOD], State.MET, "3 in a row"),
        (
            [GOOD, GOOD],
            [replace(GOOD, faults=(FaultFact("ground-loop", "Ground loop", True),)), GOOD],
            State.OPEN,
            "1 of 3",
        ),
        ([GOOD], [replace(GOOD, level=Level.PRACTICE), GOOD], State.OPEN, "1 of 3"),
        ([GOOD], [GOOD, replace(UNSEEN, help=Help.TOOK_CONTROL), GOOD], State.OPEN, "1 of 3"),
    ],
)
def test_three_landings_in_a_row(first: list, second: list, state: State, how_far: str) -> None:
    """Three in a row over two lessons: common practice, the school's own."""
    found = outcome(
        "landings_in_a_row", facts(lesson(1, EARLIER, *first), lesson(2, DAY, *second)), standard=EARLIER_US
    )
    assert (found.state, found.how_far) == (state, how_far)


def test_a_row_over_too_few_of_the_lessons_asked_for_says_over_how_many() -> None:
    rows = [
        replace(spec, values={**spec.values, "lessons": 3}) if spec.key == "landings_in_a_row" else spec
        for spec in EARLIER_US.requirements
    ]
    flown = facts(lesson(1, EARLIER, GOOD), lesson(2, DAY, GOOD, GOOD))
    found = outcome("landings_in_a_row", flown, standard=replace(EARLIER_US, requirements=tuple(rows)))
    assert (found.state, found.how_far) == (State.OPEN, "3 in a row, but over 2 of 3 lessons")


def test_a_go_around_neither_adds_to_a_row_nor_breaks_it() -> None:
    around = CircuitFact(2, Ending.GO_AROUND, go_around=AttemptFact("go_around", Level.PERFORM))
    row = lesson(2, DAY, circuits=(CircuitFact(1, landing=GOOD), around, CircuitFact(3, landing=GOOD)))
    flown = facts(lesson(1, EARLIER, GOOD), row)
    assert outcome("landings_in_a_row", flown, standard=EARLIER_US).state is State.MET
    assert outcome("go_around", facts(row)).state is State.MET


@pytest.mark.parametrize(
    ("born", "examined", "last_day"),
    [
        # 14 CFR 61.23(d)(3)(i): last day of the 60th month after the month of the examination, under 40 on that day
        (date(1990, 1, 1), date(2021, 6, 3), date(2026, 6, 30)),
        (date(1981, 6, 4), date(2021, 6, 3), date(2026, 6, 30)),
        # 61.23(d)(3)(ii): of the 24th month, 40 or more on that day
        (date(1981, 6, 3), date(2021, 6, 3), date(2023, 6, 30)),
        (date(1970, 1, 1), date(2022, 2, 28), date(2024, 2, 29)),
        (date(1990, 1, 1), date(2021, 12, 31), date(2026, 12, 31)),
    ],
)
def test_medical_on_its_last_day_and_the_day_after(born: date, examined: date, last_day: date) -> None:
    assert medical_expiry(born, examined) == last_day
    held = replace(
        facts(), student=StudentFact("Dora", born), papers=(PaperFact("medical", examined, medical_class="3"),)
    )
    assert outcome("medical", held, last_day).state is State.MET
    assert outcome("medical", held, last_day + timedelta(days=1)).state is State.LAPSED


def test_medical_that_says_an_earlier_end_ends_then() -> None:
    paper = PaperFact("medical", date(2026, 1, 1), expires=DAY, medical_class="3")
    assert outcome("medical", facts(papers=(paper,)), DAY).state is State.MET
    assert outcome("medical", facts(papers=(paper,)), DAY + timedelta(days=1)).state is State.LAPSED


@pytest.mark.parametrize(
    ("born", "birthday"),
    [
        (date(2010, 6, 11), date(2026, 6, 11)),
        (date(2012, 2, 29), date(2028, 2, 29)),
        (date(2008, 2, 29), date(2024, 2, 29)),
    ],
)
def test_age_the_day_before_the_16th_birthday_and_the_day(born: date, birthday: date) -> None:
    """14 CFR 61.83(a): 16 years."""
    young = replace(facts(), student=StudentFact("Dora", born))
    assert outcome("age", young, birthday - timedelta(days=1)).state is State.OPEN
    assert outcome("age", young, birthday).state is State.MET


def test_age_without_a_birth_date_is_not_known() -> None:
    assert outcome("age", replace(facts(), student=StudentFact("Dora"))).state is State.NOT_KNOWN


def test_born_on_29_february_is_older_on_1_march_of_a_common_year() -> None:
    assert age_on(date(2008, 2, 29), date(2026, 2, 28)) == 17
    assert age_on(date(2008, 2, 29), date(2026, 3, 1)) == 18


@pytest.mark.parametrize(("days", "state"), [(0, State.MET), (90, State.MET), (91, State.LAPSED)])
def test_training_within_90_days(days: int, state: State) -> None:
    """14 CFR 61.87(n): within the 90 days before the flight; counted as calendar days (AC 61-65)."""
    assert outcome("recent_training", facts(lesson(1, DAY - timedelta(days=days)))).state is state


@pytest.mark.parametrize(("days", "state"), [(14, State.MET), (15, State.LAPSED)])
def test_a_circuit_to_standard_within_14_days(days: int, state: State) -> None:
    assert outcome("recent_circuit", facts(lesson(1, DAY - timedelta(days=days), GOOD))).state is state


def test_a_circuit_in_which_control_was_taken_is_none_to_standard_without_a_level_too() -> None:
    taken = AttemptFact("approach", None, Help.TOOK_CONTROL)
    flown = CircuitFact(1, Ending.FULL_STOP, approach=taken, landing=GOOD)
    assert outcome("recent_circuit", facts(lesson(1, DAY, circuits=(flown,)))).state is State.OPEN
    unseen = replace(flown, approach=replace(taken, help=Help.NONE))
    assert outcome("recent_circuit", facts(lesson(1, DAY, circuits=(unseen,)))).state is State.MET


TOPICS = ("rules", "aerodrome", "make_and_model")


@pytest.mark.parametrize(
    ("test", "state"),
    [
        (KnowledgeTestFact(DAY, "t1", TOPICS, 0), State.MET),
        (KnowledgeTestFact(DAY, "t1", TOPICS, 2, DAY), State.MET),
        (KnowledgeTestFact(DAY, "t1", TOPICS, 2, DAY + timedelta(days=1)), State.OPEN),
        (KnowledgeTestFact(DAY, "t1", TOPICS[:2], 0), State.OPEN),
        (KnowledgeTestFact(DAY, "another", TOPICS, 0), State.OPEN),
    ],
)
def test_knowledge_test_covers_three_topics_and_is_reviewed(test: KnowledgeTestFact, state: State) -> None:
    """14 CFR 61.87(b)(1)-(2)."""
    assert outcome("knowledge_test", facts(knowledge_tests=(test,))).state is state


def test_a_take_over_counts_in_the_last_ten_circuits() -> None:
    taken = CircuitFact(1, Ending.TOOK_CONTROL)
    after = tuple(CircuitFact(i, Ending.FULL_STOP, landing=GOOD) for i in range(2, 12))
    assert outcome("no_take_over", facts(lesson(1, DAY, circuits=(taken, *after[:9])))).state is State.OPEN
    assert outcome("no_take_over", facts(lesson(1, DAY, circuits=(taken, *after)))).state is State.MET


def test_a_critical_fault_is_open_until_three_clean_attempts() -> None:
    bad = replace(GOOD, level=Level.PRACTICE, faults=(FaultFact("ground-loop", "Ground loop", True),))
    two = outcome("no_open_critical_fault", facts(lesson(1, DAY, bad, GOOD, GOOD)))
    assert (two.state, two.how_far) == (State.OPEN, "Ground loop (2 of 3 attempts without it since)")
    assert outcome("no_open_critical_fault", facts(lesson(1, DAY, bad, GOOD, GOOD, GOOD))).state is State.MET


def test_stage_check_needs_another_instructor_and_the_standard() -> None:
    own = lesson(1, EARLIER, GOOD)
    check = lesson(2, DAY, GOOD, kind=UnitKind.STAGE_CHECK, instructor="Cleo")
    assert outcome("second_instructor", facts(own, check)).state is State.MET
    assert outcome("second_instructor", facts(own, replace(check, instructor="Bert"))).state is State.OPEN
    below = lesson(2, DAY, HELPED, kind=UnitKind.STAGE_CHECK, instructor="Cleo")
    assert outcome("second_instructor", facts(own, below)).state is State.OPEN


def test_setting_aside_works_on_the_schools_own_only() -> None:
    decisions = tuple(SetAsideFact(key, DAY, "Amelia", "Seen by me") for key in ("second_instructor", "medical"))
    given_facts = facts(set_aside=decisions)
    aside = outcome("second_instructor", given_facts)
    assert (aside.state, aside.reason) == (State.SET_ASIDE, "Set aside by Amelia: Seen by me")
    legal = outcome("medical", given_facts)
    assert legal.state is State.NOT_KNOWN
    assert "cannot be set aside" in legal.how_far


@pytest.mark.parametrize(("key", "name", "value"), [("age", "years", 15), ("recent_training", "days", 91)])
def test_a_legal_threshold_cannot_be_loosened(key: str, name: str, value: int) -> None:
    loosened = replace(
        US, requirements=tuple(replace(r, values={name: value}) if r.key == key else r for r in US.requirements)
    )
    with pytest.raises(StandardError, match=key):
        assess(facts(), loosened, DAY)


def test_the_european_rule_set_judges_the_same_history() -> None:
    verdict = assess(facts(lesson(1, EARLIER, *[GOOD] * 5), lesson(2, DAY, *[GOOD] * 5)), EU, DAY)
    assert verdict.rule_set == "eu"
    assert {row.key: row.state for row in verdict.requirements}["landings_to_standard"] is State.MET


def test_a_european_medical_ends_as_it_is_written_and_by_nothing_else() -> None:
    """No European months were verified, so none are computed."""
    written = PaperFact("medical", DAY - timedelta(days=10), DAY, "2")
    assert outcome("medical", facts(papers=(written,)), standard=EU).state is State.MET
    assert outcome("medical", facts(papers=(written,)), DAY + timedelta(days=1), EU).state is State.LAPSED
    unwritten = outcome("medical", facts(papers=(replace(written, expires=None),)), standard=EU)
    assert (unwritten.state, unwritten.how_far) == (State.NOT_KNOWN, "no expiry date on record")


def facts_with_numbers(*amounts: float, gates: tuple[str, ...] = ("final",)) -> Facts:
    """A speed at each gate in each circuit, with a tolerance of +10 and -5 kt."""
    circuits = tuple(
        CircuitFact(
            place,
            Ending.FULL_STOP,
            approach=AttemptFact("approach", numbers=tuple(speed_number(amount, gate) for gate in gates)),
        )
        for place, amount in enumerate(amounts, 1)
    )
    return facts(replace(lesson(1, DAY), circuits=circuits))


def speed_number(amount: float, gate: str = "final") -> GateNumberFact:
    return GateNumberFact(gate, "speed", amount, 10, 5, "kt")


def at_gates(standard: StandardSpec, key: str, *gates: str) -> StandardSpec:
    rows = [
        replace(spec, values={**spec.values, "gates": gates}) if spec.key == key else spec
        for spec in standard.requirements
    ]
    return replace(standard, requirements=tuple(rows))


AT_FINAL = at_gates(US, "numbers_inside", "final.speed")
INSIDE, OUTSIDE = 4.0, 11.0


@pytest.mark.parametrize(
    ("amounts", "state", "how_far"),
    [
        ([], State.NOT_KNOWN, "final speed 0 of 10 noted"),
        ([INSIDE] * 6, State.NOT_KNOWN, "final speed 6 of 10 noted"),
        ([INSIDE] * 9, State.NOT_KNOWN, "final speed 9 of 10 noted"),
        ([INSIDE] * 8 + [OUTSIDE] * 2, State.MET, "final speed 8 of the last 10 inside"),
        ([INSIDE] * 7 + [OUTSIDE] * 3, State.OPEN, "final speed 7 of the last 10 inside"),
        ([OUTSIDE] * 5 + [INSIDE] * 10, State.MET, "final speed 10 of the last 10 inside"),
        # On the edge is inside, beyond it is not.
        ([10.0, -5.0] * 5, State.MET, "final speed 10 of the last 10 inside"),
        ([10.1, -5.1] * 5, State.OPEN, "final speed 0 of the last 10 inside"),
    ],
)
def test_eight_of_the_last_ten_numbers_at_a_gate(amounts: list[float], state: State, how_far: str) -> None:
    found = outcome("numbers_inside", facts_with_numbers(*amounts), standard=AT_FINAL)
    assert (found.state, found.how_far) == (state, how_far)


@pytest.mark.parametrize(("truly_inside", "met"), [(0.95, 0.97), (0.9, 0.80), (0.7, 0.06)])
def test_three_gates_are_met_as_often_as_computed(truly_inside: float, met: float) -> None:
    """By the binomial distribution: each gate by itself, then three of them; a value of the project's own table."""
    at_one_gate = sum(
        binom.pmf(inside, 10, truly_inside)
        for inside in range(11)
        if outcome(
            "numbers_inside", facts_with_numbers(*[OUTSIDE] * (10 - inside), *[INSIDE] * inside), standard=AT_FINAL
        ).state
        is State.MET
    )
    assert at_one_gate**3 == pytest.approx(met, abs=0.005)


def test_every_gate_that_the_standard_names_is_asked_for() -> None:
    """One gate without numbers keeps the requirement from being met, and says so."""
    both = at_gates(US, "numbers_inside", "final.speed", "abeam.speed")
    one = outcome("numbers_inside", facts_with_numbers(*[INSIDE] * 10), standard=both)
    assert (one.state, one.how_far) == (State.NOT_KNOWN, "abeam speed 0 of 10 noted")
    two = outcome("numbers_inside", facts_with_numbers(*[INSIDE] * 10, gates=("final", "abeam")), standard=both)
    assert two.state is State.MET


def test_what_the_instructor_flew_is_no_number_of_the_student() -> None:
    taken = CircuitFact(
        1, Ending.FULL_STOP,
        approach=AttemptFact("approach", help=Help.TOOK_CONTROL, numbers=(speed_number(INSIDE),)),
    )  # fmt: skip
    flown = facts(replace(lesson(1, DAY), circuits=(taken,) * 10))
    assert outcome("numbers_inside", flown, standard=AT_FINAL).how_far == "final speed 0 of 10 noted"


def tracked(amount: float, uncertainty: float) -> GateNumberFact:
    return replace(speed_number(amount), uncertainty=uncertainty)


def from_tracks(counts: int) -> StandardSpec:
    (spec,) = (row for row in AT_FINAL.requirements if row.key == "numbers_inside")
    return replace(AT_FINAL, requirements=(replace(spec, values={**spec.values, "from_tracks": counts}),))


@pytest.mark.parametrize(
    ("amount", "uncertainty", "inside", "outside"),
    [
        # The tolerance is +10 and -5 kt: on the edge with all of its uncertainty is inside, a tenth beyond is not.
        (8.0, 2.0, True, False),
        (8.1, 2.0, False, False),
        (-3.0, 2.0, True, False),
        (-3.1, 2.0, False, False),
        # Decimals that binary fractions miss: 9.9 + 0.1 is on the edge.
        (9.9, 0.1, True, False),
        # Outside itself, whether or not its uncertainty reaches back over the edge.
        (10.1, 2.0, False, True),
        (14.0, 2.0, False, True),
        # Wider than the tolerance: no track can tell.
        (2.5, 7.6, False, False),
    ],
)
def test_the_uncertainty_of_a_track_counts_against_the_student(
    amount: float, uncertainty: float, inside: bool, outside: bool
) -> None:
    number = tracked(amount, uncertainty)
    assert (number.inside, number.outside) == (inside, outside)
    # A level is lowered by a number that lies outside, and not by one that a track could not tell.
    attempt = AttemptFact("approach", Level.PERFORM, numbers=(number,))
    assert attempt.counted is (Level.PRACTICE if outside else Level.PERFORM)


def with_tracked(*numbers: GateNumberFact) -> Facts:
    circuits = tuple(
        CircuitFact(place, Ending.FULL_STOP, approach=AttemptFact("approach", numbers=(number,)))
        for place, number in enumerate(numbers, 1)
    )
    return facts(replace(lesson(1, DAY), circuits=circuits))


def test_a_standard_says_whether_numbers_from_a_track_count() -> None:
    seen, track, unsure = speed_number(INSIDE), tracked(INSIDE, 3), tracked(8.1, 2)
    both = with_tracked(*[track] * 5, *[seen] * 3, unsure, unsure)
    counting = outcome("numbers_inside", both, standard=from_tracks(1))
    assert (counting.state, counting.how_far) == (State.MET, "final speed 8 of the last 10 inside")
    # An older standard does not say it, and means the same.
    assert outcome("numbers_inside", both, standard=AT_FINAL).how_far == counting.how_far
    without = outcome("numbers_inside", both, standard=from_tracks(0))
    assert (without.state, without.how_far) == (State.NOT_KNOWN, "final speed 3 of 10 noted")
    # Older numbers that were seen take the place of those that do not count.
    behind = with_tracked(*[seen] * 8, *[speed_number(OUTSIDE)] * 2, *[unsure] * 10)
    assert outcome("numbers_inside", behind, standard=from_tracks(0)).state is State.MET
    against = outcome("numbers_inside", behind, standard=from_tracks(1))
    assert (against.state, against.how_far) == (State.OPEN, "final speed 0 of the last 10 inside")
    assert against.evidence[0].text.startswith("Final speed not certainly inside, from a track: lesson 1")


def test_an_earlier_standard_can_leave_tracks_out_too() -> None:
    rows = tuple(
        replace(spec, values={**spec.values, "from_tracks": 0}) if spec.key == "consistent" else spec
        for spec in EARLIER_AT_FINAL.requirements
    )
    noted = with_tracked(*[speed_number(INSIDE)] * 5, *[tracked(INSIDE, 1)] * 5)
    assert outcome("consistent", noted, standard=EARLIER_AT_FINAL).state is State.MET
    found = outcome("consistent", noted, standard=replace(EARLIER_AT_FINAL, requirements=rows))
    assert (found.state, found.how_far) == (State.NOT_KNOWN, "final speed 5 of 6 noted")


EARLIER_AT_FINAL = at_gates(EARLIER_US, "consistent", "final.speed")


def test_an_earlier_standard_judges_a_gate_from_six_numbers_on() -> None:
    """Six wild ones are open, five are not known; the school's own threshold of 80 percent."""
    wild = [20, -15, 18, -12, 20, -15]
    few = outcome("consistent", facts_with_numbers(*wild[:5]), standard=EARLIER_AT_FINAL)
    assert (few.state, few.how_far) == (State.NOT_KNOWN, "final speed 5 of 6 noted")
    found = outcome("consistent", facts_with_numbers(*wild), standard=EARLIER_AT_FINAL)
    assert found.state is State.OPEN
    assert found.how_far == "final speed 28 %, 3 kt fast on average"
    close = facts_with_numbers(2, 4, 6, 4, 2, 6)
    assert outcome("consistent", close, standard=EARLIER_AT_FINAL).state is State.MET  # 98 %, see test_statistics.py


def test_an_earlier_standard_looks_at_the_last_ten_numbers() -> None:
    flown = facts_with_numbers(*[30] * 6, *[2, 4, 6, 4, 2, 6, 4, 2, 6, 4])
    assert outcome("consistent", flown, standard=EARLIER_AT_FINAL).state is State.MET


@pytest.mark.parametrize(
    ("endings", "state", "how_far"),
    [
        ([], State.NOT_KNOWN, "no circuit flown yet"),
        ([Ending.FULL_STOP] * 7, State.NOT_KNOWN, "none in 7 of 10 circuits flown so far"),
        ([Ending.FULL_STOP] * 10, State.MET, "none in the last 10 circuits"),
        ([Ending.TOOK_CONTROL] + [Ending.FULL_STOP] * 10, State.MET, "none in the last 10 circuits"),
        ([Ending.TOOK_CONTROL] + [Ending.FULL_STOP] * 9, State.OPEN, "1 in the last 10 circuits"),
    ],
)
def test_no_taking_over_needs_as_many_circuits_as_it_looks_at(
    endings: list[Ending], state: State, how_far: str
) -> None:
    circuits = tuple(CircuitFact(number, ending, landing=GOOD) for number, ending in enumerate(endings, 1))
    found = outcome("no_take_over", facts(replace(lesson(1, DAY), circuits=circuits)))
    assert (found.state, found.how_far) == (state, how_far)


levels = st.sampled_from([None, *Level])
attempts = st.builds(
    AttemptFact,
    st.just("landing"),
    levels,
    st.sampled_from(Help),
    st.lists(st.builds(FaultFact, st.sampled_from("ab"), st.just("x"), st.booleans()), max_size=2).map(tuple),
)
random_histories = st.lists(
    st.tuples(st.integers(0, 60), st.lists(attempts, max_size=4), st.integers(0, 5)), max_size=6
).map(
    lambda rows: tuple(
        replace(lesson(n, DAY + timedelta(days=d), *landings), signed=DAY + timedelta(days=d + late))
        for n, (d, landings, late) in enumerate(rows, 1)
    )
)


@settings(max_examples=200)
@given(random_histories, st.integers(0, 60))
def test_what_is_signed_later_never_changes_an_earlier_verdict(history: tuple[LessonFact, ...], after: int) -> None:
    on = DAY + timedelta(days=after)
    known = tuple(row for row in history if row.signed and row.signed <= on)
    assert assess(facts(*history), US, on) == assess(facts(*known), US, on)


@given(random_histories, st.randoms())
def test_the_order_in_which_lessons_are_given_does_not_matter(history: tuple[LessonFact, ...], chance: object) -> None:
    shuffled = list(history)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    on = DAY + timedelta(days=99)
    assert assess(facts(*shuffled), US, on) == assess(facts(*history), US, on)
