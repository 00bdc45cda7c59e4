"""The school's own limits beside the requirements: in the standard alone, bounded, and used where they apply."""

import json
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from grading.rules.inspection.finding import FINDING_KINDS, describe_kinds
from grading.rules.readiness import Facts, StandardError, assess
from grading.rules.readiness.checks.numbers import gate_consistency
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    CircuitFact,
    GateNumberFact,
    LessonFact,
    StudentFact,
)
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import BadInput, facts_schema, standard_from_json
from grading.rules.readiness.relapse import find_slips
from grading.rules.readiness.standard import POLICY_BOUNDS, Policy
from lessons.rules.scale import Ending, Level

FILES = sorted((Path(__file__).parents[4] / "fixtures/standards").glob("*.json"))
EARLIER_US = json.loads((Path(__file__).parents[3] / "standards/us-2025.json").read_text())
US = json.loads((Path(__file__).parents[4] / "fixtures/standards/us.json").read_text())
DAY = date(2026, 6, 1)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_standard_of_before_the_policy_means_what_the_published_ones_say(path: Path) -> None:
    content = json.loads(path.read_text())
    assert content["policy"] == asdict(Policy())
    older = {key: value for key, value in content.items() if key != "policy"}
    assert standard_from_json(older) == standard_from_json(content)


def test_a_standard_gives_some_limits_and_the_others_stay() -> None:
    standard = standard_from_json(US | {"policy": {"hours_to_sign": 48}})
    assert standard.policy == Policy(hours_to_sign=48)


@pytest.mark.parametrize(
    ("policy", "text"),
    [
        ({"hours_to_sign": 0}, "hours_to_sign lies between"),
        ({"long_gap_days": 1000}, "long_gap_days lies between"),
        ({"relapse_good_failures_percent": 40, "relapse_bad_failures_percent": 33}, "relapse_good_failures_percent"),
        ({"gate_numbers_least": 12}, "gate_numbers_least"),
        ({"hours_to_sing": 24}, "policy.hours_to_sing: no such field"),
        ({"hours_to_sign": "24"}, "policy.hours_to_sign: expected int"),
        ({"hours_to_sign": True}, "policy.hours_to_sign: expected int"),
    ],
)
def test_a_policy_that_makes_no_sense_is_refused_by_name(policy: dict, text: str) -> None:
    with pytest.raises(BadInput, match=text):
        standard_from_json(US | {"policy": policy})


def test_every_limit_has_its_bounds_and_each_bound_is_inside() -> None:
    assert set(POLICY_BOUNDS) == set(asdict(Policy()))
    for name, (least, most) in POLICY_BOUNDS.items():
        for value in (least - 1, most + 1):
            with pytest.raises(StandardError, match=name):
                replace(Policy(), **{name: value})
    assert Policy(hours_to_sign=POLICY_BOUNDS["hours_to_sign"][0]).hours_to_sign == POLICY_BOUNDS["hours_to_sign"][0]


@pytest.mark.parametrize("value", [2, "yes", ["yes"]])
def test_whether_tracks_count_is_one_or_nought(value: Any) -> None:
    rows = [row | {"values": row["values"] | {"from_tracks": value}} for row in US["requirements"]]
    with pytest.raises(BadInput, match="from_tracks: expected"):
        standard_from_json(US | {"requirements": rows})


def flown(*levels: Level) -> Facts:
    circuits = tuple(
        CircuitFact(number, Ending.FULL_STOP, landing=AttemptFact("landing", level))
        for number, level in enumerate(levels, start=1)
    )
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", circuits=circuits)
    return Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", False), lessons=(lesson,))


def test_a_slip_is_found_by_the_rates_of_the_standard() -> None:
    """Three failures are a slip where one in three is no longer at standard, and none where four in five are."""
    facts = flown(*[Level.PERFORM] * 10, *[Level.PRACTICE] * 3)
    lenient = US | {"policy": {"relapse_good_failures_percent": 60, "relapse_bad_failures_percent": 80}}
    assert set(find_slips(History.from_facts(facts, standard_from_json(US), DAY))) == {"landing"}
    assert find_slips(History.from_facts(facts, standard_from_json(lenient), DAY)) == {}


def test_the_numbers_at_a_gate_are_counted_by_the_standard() -> None:
    noted = [(None, GateNumberFact("touchdown", "distance", float(amount), 400, 0, "ft")) for amount in range(12)]
    for most in (10, 8):
        consistency = gate_consistency(noted, most)  # type: ignore[arg-type]
        assert consistency is not None
        assert consistency.count == most


def only_touchdown(content: dict[str, Any]) -> dict[str, Any]:
    """Return a standard that looks at one gate: what is not noted at another is not known."""
    rows = [
        row | {"values": row["values"] | {"gates": ["touchdown.distance"]}} if row["key"] == "consistent" else row
        for row in content["requirements"]
    ]
    return content | {"requirements": rows}


def test_the_verdict_looks_at_as_many_numbers_as_the_standard_says() -> None:
    """Nine wide ones, then six close: the last six are likely inside, the last fifteen are not. An earlier standard."""
    wide = [GateNumberFact("touchdown", "distance", amount, 400, 0, "ft") for amount in [1500.0, -1500.0, 900.0] * 3]
    close = [GateNumberFact("touchdown", "distance", 200.0 + amount, 400, 0, "ft") for amount in range(6)]
    circuits = tuple(
        CircuitFact(number, Ending.FULL_STOP, landing=AttemptFact("landing", Level.PERFORM, numbers=(row,)))
        for number, row in enumerate(wide + close, start=1)
    )
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", circuits=circuits)
    facts = Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", False), lessons=(lesson,))
    states = []
    for most in (6, 15):
        standard = standard_from_json(only_touchdown(EARLIER_US) | {"policy": {"gate_numbers_most": most}})
        verdict = assess(facts, standard, DAY)
        states.append(next(row.state.value for row in verdict.requirements if row.key == "consistent"))
    assert states == ["met", "open"]


def test_what_is_checked_quotes_the_policy() -> None:
    checked = {kind.title: kind.checked for kind in describe_kinds(Policy(hours_to_sign=48, days_to_review=3), "us")}
    assert checked["Lesson not signed"] == "each lesson signed within 48 hours of its end"
    assert checked["Wrong answers not reviewed"].endswith("those of other tests within 3 days")
    assert not [text for text in checked.values() if "{" in text]
    assert len(checked) == len(FINDING_KINDS)


def test_the_schema_describes_facts_and_no_standard() -> None:
    assert "Policy" not in facts_schema()["$defs"]
    assert "StandardSpec" not in facts_schema()["$defs"]
