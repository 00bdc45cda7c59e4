"""What next: a step brings the faults of the manoeuvres that its requirement names, whatever its key is."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from grading.rules.readiness import Facts, StandardSpec, assess
from grading.rules.readiness.facts import AircraftTypeFact, AttemptFact, CircuitFact, FaultFact, LessonFact, StudentFact
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.next_steps import _step
from lessons.rules.scale import Ending, Level

STANDARD = standard_from_json((Path(__file__).parents[4] / "fixtures/standards/us.json").read_text())
DAY = date(2026, 6, 1)


def renamed(key: str, name: str) -> StandardSpec:
    rows = (replace(spec, key=name) if spec.key == key else spec for spec in STANDARD.requirements)
    return replace(STANDARD, requirements=tuple(rows))


def flown_with_faults() -> Facts:
    bounced, late = FaultFact("bounced", "Bounced"), FaultFact("late", "Power late")
    circuit = CircuitFact(
        1,
        Ending.FULL_STOP,
        landing=AttemptFact("landing", Level.PRACTICE, faults=(bounced,)),
        go_around=AttemptFact("go_around", Level.PRACTICE, faults=(late,)),
    )
    lesson = LessonFact(1, DAY, "Bert", signed=DAY, aircraft_type="t", circuits=(circuit,))
    return Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", True), lessons=(lesson,))


@pytest.mark.parametrize(
    ("key", "name", "fault"),
    [
        ("landings_to_standard", "landings_to_standard", "bounced"),
        ("landings_to_standard", "good_landings", "bounced"),
        ("go_around", "balked", "late"),
    ],
)
def test_a_renamed_requirement_keeps_its_faults(key: str, name: str, fault: str) -> None:
    facts, standard = flown_with_faults(), renamed(key, name)
    history, verdict = History.from_facts(facts, standard, DAY), assess(facts, standard, DAY)
    step = _step(next(row for row in verdict.unmet if row.key == name), history)
    assert [row.code for row in step.faults] == [fault]


def test_a_requirement_without_a_manoeuvre_brings_no_fault() -> None:
    facts = flown_with_faults()
    history, verdict = History.from_facts(facts, STANDARD, DAY), assess(facts, STANDARD, DAY)
    step = _step(next(row for row in verdict.unmet if row.key == "second_instructor"), history)
    assert step.faults == ()
