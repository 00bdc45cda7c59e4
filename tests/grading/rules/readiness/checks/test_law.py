"""Each requirement of the law at its edge: papers, tests, training, endorsements before a first solo.

14 CFR 61.23, 61.31, 61.87, 61.195 as read in a copy of the eCFR of August and September 2026; AMC1 FCL.210(b)(2) in a
consolidated text of November 2021.
"""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from grading.rules.readiness import Facts, StandardSpec, State, assess
from grading.rules.readiness.checks.training import count_items_given
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    CircuitFact,
    EndorsementFact,
    KnowledgeTestFact,
    LessonFact,
    PaperFact,
    StudentFact,
)
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import facts_from_json, standard_from_json
from grading.rules.readiness.verdict import Outcome
from lessons.rules.scale import Ending, Level, UnitKind

FOLDER = Path(__file__).parents[5] / "fixtures/standards"
US = standard_from_json((FOLDER / "us.json").read_text())
EU = standard_from_json((FOLDER / "eu.json").read_text())
DAY = date(2026, 6, 11)
BEFORE, AFTER = DAY - timedelta(days=1), DAY + timedelta(days=1)
SIMPLE = AircraftTypeFact("t1", "Type One", False, False, False, True, 160)
ALL_ITEMS: tuple[str, ...] = next(row for row in US.requirements if row.key == "training_received").words("items")
TOPICS = ("rules", "aerodrome", "make_and_model")


def lesson(on: date = DAY, **more: Any) -> LessonFact:
    fields: dict[str, Any] = {"number": 1, "instructor": "Bert", "signed": on, "aircraft_type": "t1"} | more
    return LessonFact(on=on, **fields)


def facts(*lessons: LessonFact, aircraft: AircraftTypeFact = SIMPLE, **more: Any) -> Facts:
    return Facts(StudentFact("Dora", date(2000, 5, 5)), aircraft, lessons=lessons, **more)


def outcomes(given: Facts, on: date = DAY, standard: StandardSpec = US) -> dict[str, Outcome]:
    return {row.key: row for row in assess(given, standard, on).requirements}


def medical(examined: date, **more: Any) -> PaperFact:
    return PaperFact("medical", examined, **({"medical_class": "3"} | more))


def test_the_most_recent_medical_decides_and_not_the_one_that_ends_last() -> None:
    """14 CFR 61.23(d): the newer one ends on the day, the older one years later."""
    older = medical(date(2026, 1, 10))
    newer = medical(date(2026, 5, 10), expires=DAY)
    for papers in ((older, newer), (newer, older)):
        assert outcomes(facts(papers=papers))["medical"].until == DAY
        assert outcomes(facts(papers=papers), AFTER)["medical"].state is State.LAPSED


def test_of_two_medicals_of_one_day_the_one_recorded_last_decides() -> None:
    first = medical(date(2026, 1, 10), recorded=date(2026, 1, 10))
    second = medical(date(2026, 1, 10), expires=BEFORE, recorded=date(2026, 1, 11))
    for papers in ((first, second), (second, first)):
        assert outcomes(facts(papers=papers))["medical"].state is State.LAPSED


@pytest.mark.parametrize(("on", "state"), [(BEFORE, State.NOT_KNOWN), (DAY, State.MET), (AFTER, State.NOT_KNOWN)])
def test_a_document_counts_from_its_entry_until_the_entry_is_void(on: date, state: State) -> None:
    """A verdict of a past day knows what was on record on that day, and nothing that was entered later."""
    paper = medical(date(2026, 1, 10), recorded=DAY, void_from=AFTER)
    assert outcomes(facts(papers=(paper,)), on)["medical"].state is state


def test_a_missing_medical_names_that_a_person_judges_the_other_ways() -> None:
    """14 CFR 61.23(c) names them; nothing here computes one."""
    assert "61.23(c)" in outcomes(facts())["medical"].would_meet
    assert "CFR" not in outcomes(facts(), standard=EU)["medical"].would_meet


@pytest.mark.parametrize(("certificate", "state"), [("", State.NOT_KNOWN), ("lapl", State.MET)])
def test_a_lapl_medical_counts_for_who_trains_for_a_lapl_only(certificate: str, state: State) -> None:
    """MED.A.030: the class for the licence sought."""
    student = StudentFact("Dora", date(2000, 5, 5), certificate)
    held = replace(facts(papers=(medical(BEFORE, medical_class="lapl", expires=AFTER),)), student=student)
    assert outcomes(held, standard=EU)["medical"].state is state


def taken(on: date, wrong: int, reviewed: date | None = None) -> KnowledgeTestFact:
    return KnowledgeTestFact(on, "t1", TOPICS, wrong, reviewed, "Bert")


@pytest.mark.parametrize(
    ("tests", "state"),
    [
        ((taken(BEFORE, 0), taken(DAY, 2)), State.OPEN),  # the latest is not reviewed, whatever came before it
        ((taken(BEFORE, 2), taken(DAY, 0)), State.OPEN),  # nor is the earlier one
        ((taken(BEFORE, 0), taken(DAY, 2, DAY)), State.MET),
        ((taken(BEFORE, 2, DAY), taken(DAY, 2, DAY)), State.MET),
        ((taken(DAY, 2, BEFORE),), State.OPEN),  # a review is not before its test
        ((taken(DAY, 2, AFTER),), State.OPEN),
    ],
)
def test_every_wrong_answer_of_every_test_is_reviewed(tests: tuple[KnowledgeTestFact, ...], state: State) -> None:
    """14 CFR 61.87(b)(2)(ii)."""
    assert outcomes(facts(knowledge_tests=tests))["knowledge_test"].state is state


def test_an_unreviewed_test_for_another_type_asks_nothing_of_this_one() -> None:
    other = replace(taken(DAY, 3), aircraft_type="t2")
    assert outcomes(facts(knowledge_tests=(taken(DAY, 0), other)))["knowledge_test"].state is State.MET


@pytest.mark.parametrize("missing", ALL_ITEMS)
def test_each_item_and_each_half_is_needed(missing: str) -> None:
    """14 CFR 61.87(d)(1)-(15), with both sides of each "and"."""
    rest = tuple(code for code in ALL_ITEMS if code != missing)
    short = outcomes(facts(lesson(training=rest)))["training_received"]
    assert (short.state, short.how_far) == (State.OPEN, "14 of 15 logged")
    assert f"({missing.partition(':')[0]})" in short.would_meet
    assert outcomes(facts(lesson(training=rest), lesson(number=2, training=(missing,))))["training_received"].done == 15


@pytest.mark.parametrize(
    "how", [{"kind": UnitKind.GROUND, "aircraft_type": ""}, {"kind": UnitKind.GROUND}, {"aircraft_type": ""}]
)
def test_a_lesson_on_the_ground_is_no_flight_training(how: dict[str, Any]) -> None:
    """14 CFR 61.87(c)(1)."""
    assert outcomes(facts(lesson(training=ALL_ITEMS, **how)))["training_received"].done == 0


def test_solo_flight_is_no_training() -> None:
    assert outcomes(facts(lesson(training=ALL_ITEMS, kind=UnitKind.SOLO)))["training_received"].done == 0


def test_the_whole_code_of_an_older_syllabus_counts_and_says_so() -> None:
    whole = tuple(dict.fromkeys(code.partition(":")[0] for code in ALL_ITEMS))
    given = outcomes(facts(lesson(training=whole)))["training_received"]
    assert (given.state, given.how_far) == (State.MET, "15 of 15 logged, 5 by whole items of an older syllabus")


def test_training_counts_in_the_type_and_in_one_that_is_named_similar() -> None:
    """14 CFR 61.87(c)(2): the make and model to be flown, or a similar one."""
    other = facts(lesson(training=ALL_ITEMS, aircraft_type="t2"))
    assert outcomes(other)["training_received"].done == 0
    rows = tuple(
        replace(row, values={**row.values, "similar_types": ("t2",)}) if row.key == "training_received" else row
        for row in US.requirements
    )
    given = outcomes(other, standard=replace(US, requirements=rows))["training_received"]
    assert given.state is State.MET
    assert "in the similar type t2" in given.evidence[0].text


def test_items_of_one_instructor_are_counted_with_all_their_halves() -> None:
    """14 CFR 61.195(d)(1): who endorses gave the training."""
    own = tuple(code for code in ALL_ITEMS if code != "61.87(d)(4):turns")
    flown = facts(lesson(training=own), lesson(number=2, training=ALL_ITEMS, instructor="Cleo"))
    history = History.from_facts(flown, US, DAY)
    assert count_items_given(history, "Bert") == (14, 15)
    assert count_items_given(history, "Cleo") == (15, 15)
    assert count_items_given(history, "Amelia") == (0, 15)
    assert count_items_given(History.from_facts(flown, EU, DAY), "Bert") is None


KINDS = {
    "tailwheel_endorsement": replace(SIMPLE, tailwheel=True),
    "complex_endorsement": replace(SIMPLE, retractable=True, constant_speed_propeller=True),
    "high_performance_endorsement": replace(SIMPLE, horsepower=201),
}


def endorsed(key: str, on: date, **more: Any) -> tuple[EndorsementFact, ...]:
    return (EndorsementFact(key.removesuffix("_endorsement"), on, "Bert", **more),)


@pytest.mark.parametrize("key", KINDS)
def test_an_endorsement_is_asked_of_such_types_only(key: str) -> None:
    """14 CFR 61.31(e)(1), (f)(1), (i)(1)."""
    assert outcomes(facts(aircraft=KINDS[key]))[key].state is State.OPEN
    assert not set(KINDS) & set(outcomes(facts()))
    assert key not in outcomes(facts(aircraft=KINDS[key]), standard=EU)


@pytest.mark.parametrize("key", KINDS)
@pytest.mark.parametrize(("trained", "state"), [(DAY, State.MET), (BEFORE, State.MET), (AFTER, State.OPEN)])
def test_training_is_logged_before_the_endorsement(key: str, trained: date, state: State) -> None:
    """14 CFR 61.31(e)(1)(i)-(ii), (f)(1)(i)-(ii), (i)(1): training received and logged, then the endorsement."""
    given = facts(lesson(trained), aircraft=KINDS[key], endorsements=endorsed(key, DAY))
    found = outcomes(given, AFTER)[key]
    assert found.state is state
    assert ("before any training" in found.how_far) is (state is State.OPEN)


@pytest.mark.parametrize("key", KINDS)
@pytest.mark.parametrize(
    "more", [{"kind": UnitKind.GROUND}, {"kind": UnitKind.SOLO}, {"aircraft_type": "t2"}, {"signed": None}]
)
def test_no_other_lesson_is_training_for_the_endorsement(key: str, more: dict[str, Any]) -> None:
    given = facts(lesson(BEFORE, **more), aircraft=KINDS[key], endorsements=endorsed(key, DAY))
    assert outcomes(given)[key].state is State.OPEN


@pytest.mark.parametrize("key", KINDS)
def test_an_endorsement_earned_in_another_such_type_or_given_again_counts(key: str) -> None:
    """One time: 14 CFR 61.31(e)(1)(ii), (f)(1)(ii)."""
    elsewhere = facts(
        lesson(BEFORE, aircraft_type="t2"), aircraft=KINDS[key], endorsements=endorsed(key, BEFORE, aircraft_type="t2")
    )
    assert outcomes(elsewhere)[key].state is State.MET
    again = facts(
        lesson(BEFORE), aircraft=KINDS[key], endorsements=endorsed(key, DAY - timedelta(days=9)) + endorsed(key, DAY)
    )
    assert outcomes(again)[key].since == DAY
    withdrawn = facts(lesson(BEFORE), aircraft=KINDS[key], endorsements=endorsed(key, BEFORE, withdrawn=DAY))
    assert outcomes(withdrawn)[key].state is State.OPEN


@pytest.mark.parametrize(
    ("changed", "needed"),
    [
        ({}, True),
        ({"flaps": False}, False),
        ({"retractable": False}, False),
        ({"constant_speed_propeller": False}, False),
    ],
)
def test_complex_is_flaps_gear_and_propeller_together(changed: dict[str, bool], needed: bool) -> None:
    """14 CFR 61.31(e)(1)."""
    aircraft = replace(KINDS["complex_endorsement"], **changed)  # type: ignore[arg-type]
    assert ("complex_endorsement" in outcomes(facts(aircraft=aircraft))) is needed


@pytest.mark.parametrize(("horsepower", "needed"), [(200, False), (201, True)])
def test_high_performance_is_more_than_200_horsepower(horsepower: int, needed: bool) -> None:
    """14 CFR 61.31(f)(1)."""
    aircraft = replace(SIMPLE, horsepower=horsepower)
    assert ("high_performance_endorsement" in outcomes(facts(aircraft=aircraft))) is needed


def test_what_is_not_recorded_of_a_type_is_not_known_and_never_left_out() -> None:
    bare = facts_from_json(
        '{"student": {"name": "A"}, "aircraft_type": {"code": "x", "name": "x", "tailwheel": false}}'
    )
    found = outcomes(bare)
    assert found["high_performance_endorsement"].state is State.NOT_KNOWN
    assert found["complex_endorsement"].state is State.NOT_KNOWN
    # One feature that it lacks decides.
    fixed = replace(bare, aircraft_type=replace(bare.aircraft_type, retractable=False))
    assert "complex_endorsement" not in outcomes(fixed)


def test_radio_and_systems_are_used_before_solo_in_europe() -> None:
    """AMC1 FCL.210(b)(2)."""
    seen = AttemptFact("radio", Level.PRACTICE), AttemptFact("flight_preparation", Level.EXPLAIN)
    key = "radio_and_systems"
    assert outcomes(facts(lesson(manoeuvres=seen)), standard=EU)[key].state is State.MET
    short = outcomes(facts(lesson(manoeuvres=seen[:1])), standard=EU)[key]
    assert (short.state, short.would_meet) == (
        State.OPEN, "Still to be taught in flight and logged: flight preparation."
    )  # fmt: skip
    unseen = replace(seen[0], level=Level.NOT_OBSERVED)
    assert outcomes(facts(lesson(manoeuvres=(unseen, seen[1]))), standard=EU)[key].done == 1
    assert outcomes(facts(lesson(manoeuvres=seen, kind=UnitKind.GROUND)), standard=EU)[key].done == 0


@pytest.mark.parametrize(("shown", "done"), [(False, 1), (True, 0)])
def test_a_manoeuvre_that_the_instructor_showed_was_not_taught_by_it(shown: bool, done: int) -> None:
    landing = AttemptFact("landing", Level.EXPLAIN)
    flown = lesson(circuits=(CircuitFact(1, Ending.FULL_STOP, landing=landing, shown=shown),))
    assert outcomes(facts(flown), standard=EU)["training_received"].done == done


def test_days_of_recency_are_the_schools_own_in_europe() -> None:
    """No European rule that names any was read, so a school may set them and set them aside."""
    assert EU.requirement("recent_training").kind == "school"
    rows = tuple(replace(row, values={"days": 120}) if row.key == "recent_training" else row for row in EU.requirements)
    long_ago = facts(lesson(DAY - timedelta(days=120)))
    assert outcomes(long_ago, standard=replace(EU, requirements=rows))["recent_training"].state is State.MET
