"""What the standard asks of each part of the circuit reaches whatever counts attempts, part by part."""

from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from grading.rules.readiness import Facts, RequirementSpec, StandardSpec
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    CircuitFact,
    FaultFact,
    LessonFact,
    StudentFact,
)
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.relapse import find_slips
from grading.rules.readiness.success_rules import Row, Share, rule_of
from lessons.rules.scale import Ending, Help, Level, UnitKind

STANDARD = standard_from_json((Path(__file__).parents[4] / "fixtures/standards/us.json").read_text())
DAY = date(2026, 6, 1)
GOOD, BAD = Level.PERFORM, Level.PRACTICE


def standard_with(**rules: Row | Share) -> StandardSpec:
    """Return the standard with other rules for the parts of the circuit, and none for a part that is not named."""
    rows = [spec for spec in STANDARD.requirements if rule_of(spec) is None]
    for part, rule in rules.items():
        check = "in_a_row" if isinstance(rule, Row) else "most_of_last"
        values = {"part": (part,), **asdict(rule)}
        rows.append(RequirementSpec(f"{part}s", check, part, "standard", "school", "the school's own", values))
    return replace(STANDARD, requirements=tuple(rows))


def history_of(standard: StandardSpec, *levels: Level) -> History:
    """Return a history whose takeoff and landing of each circuit have one and the same level."""
    circuits = tuple(
        CircuitFact(
            number,
            Ending.FULL_STOP,
            takeoff=AttemptFact("takeoff", level),
            landing=AttemptFact("landing", level),
        )
        for number, level in enumerate(levels, start=1)
    )
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", circuits=circuits)
    facts = Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", True), lessons=(lesson,))
    return History.from_facts(facts, standard, DAY)


def test_each_part_has_its_own_rule() -> None:
    history = history_of(standard_with(landing=Share(4, 5, 1), takeoff=Row(3, 2)))
    assert history.rules == {"takeoff": Row(3, 2), "landing": Share(4, 5, 1)}
    assert list(history.rules) == ["takeoff", "landing"]  # in the order flown and not in that of the standard


def test_a_standard_that_asks_for_no_part_is_shown_by_nine_of_ten() -> None:
    assert set(history_of(standard_with()).rules.values()) == {Share(9, 10, 2)}


def test_a_slip_follows_the_rule_of_its_own_part() -> None:
    """Three good ones were enough of takeoffs and not of landings, so only the takeoff can slip back."""
    flown = [GOOD, GOOD, GOOD, BAD, BAD, BAD]
    assert set(find_slips(history_of(standard_with(takeoff=Row(3, 2), landing=Row(5, 2)), *flown))) == {"takeoff"}
    both = find_slips(history_of(standard_with(takeoff=Row(3, 2), landing=Share(3, 3, 2)), *flown))
    assert set(both) == {"takeoff", "landing"}


# What counts, and for which side ------------------------------------------------------------------------------------


def history_with(*attempts: AttemptFact, shown: bool = False, **lesson: Any) -> History:
    """Return a history of one lesson whose circuits have these landings, and a manoeuvre by itself of the same kind."""
    circuits = tuple(
        CircuitFact(number, Ending.FULL_STOP, landing=attempt, shown=shown)
        for number, attempt in enumerate(attempts, start=1)
    )
    fields: dict[str, Any] = {"signed": DAY, "aircraft_type": "t", "circuits": circuits} | lesson
    flown = LessonFact(1, DAY, "Bert", manoeuvres=(AttemptFact("stalls", GOOD),), **fields)
    facts = Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", True), lessons=(flown,))
    return History.from_facts(facts, STANDARD, DAY)


LANDED = AttemptFact("landing", GOOD)


def test_what_was_flown_in_the_type_counts() -> None:
    history = history_with(LANDED)
    assert [good for _, good in history.outcomes("landing")] == [True]
    assert [row.attempt.manoeuvre for row in history.attempts] == ["landing", "stalls"]


@pytest.mark.parametrize(
    "lesson",
    [
        {"aircraft_type": "another"},
        {"aircraft_type": ""},
        {"kind": UnitKind.GROUND},
        {"signed": None},
    ],
)
def test_another_type_the_ground_and_what_is_not_signed_never_count(lesson: dict[str, Any]) -> None:
    history = history_with(LANDED, **lesson)
    assert (history.outcomes("landing"), history.attempts, history.circuits) == ([], [], ())


def test_what_the_instructor_showed_never_counts() -> None:
    history = history_with(LANDED, shown=True)
    assert (history.outcomes("landing"), history.circuits) == ([], ())
    assert [row.attempt.manoeuvre for row in history.attempts] == ["stalls"]


def test_a_type_that_the_standard_names_similar_counts() -> None:
    """14 CFR 61.87(c)(2)."""
    rows = tuple(
        replace(row, values={**row.values, "similar_types": ("another",)}) if "similar_types" in row.values else row
        for row in STANDARD.requirements
    )
    flown = history_with(LANDED, aircraft_type="another").facts
    assert len(History.from_facts(flown, replace(STANDARD, requirements=rows), DAY).outcomes("landing")) == 1


@pytest.mark.parametrize(
    ("attempt", "outcomes"),
    [
        (LANDED, [True]),
        (AttemptFact("landing", BAD), [False]),
        # Nobody looked: neither for the student nor against.
        (AttemptFact("landing"), []),
        (AttemptFact("landing", Level.NOT_OBSERVED), []),
        # Without a level, yet seen: help, and the worst that can be seen.
        (AttemptFact("landing", None, Help.PROMPTED), [False]),
        (AttemptFact("landing", None, Help.TOOK_CONTROL), [False]),
        (AttemptFact("landing", None, faults=(FaultFact("ground-loop", "Ground loop", critical=True),)), [False]),
        (AttemptFact("landing", None, faults=(FaultFact("bounced", "Bounced"),)), []),
    ],
)
def test_what_an_attempt_says(attempt: AttemptFact, outcomes: list[bool]) -> None:
    assert [good for _, good in history_with(attempt).outcomes("landing")] == outcomes
