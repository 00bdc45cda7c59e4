"""What the standard asks of each part of the circuit reaches whatever counts attempts, part by part."""

from dataclasses import asdict, replace
from datetime import date
from pathlib import Path

from grading.rules.readiness import Facts, RequirementSpec, StandardSpec
from grading.rules.readiness.facts import AircraftTypeFact, AttemptFact, CircuitFact, LessonFact, StudentFact
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.relapse import find_slips
from grading.rules.readiness.success_rules import Row, Share, rule_of
from lessons.rules.scale import Ending, Level

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
