"""Progress over time: what each column says, and faults that open and clear by the rule that the verdict uses."""

import random
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from grading.rules.progress import build_progress
from grading.rules.readiness.facts import (
    AircraftTypeFact,
    AttemptFact,
    CircuitFact,
    Facts,
    FaultFact,
    GateNumberFact,
    LessonFact,
    StudentFact,
)
from grading.rules.readiness.faults import fault_courses, open_faults
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from lessons.rules.scale import Ending, Help, Level

STANDARD = standard_from_json((Path(__file__).parents[3] / "fixtures/standards/us.json").read_text())
FIRST_DAY = date(2026, 6, 1)
HIGH = FaultFact("final-high", "High on final")
LONG = FaultFact("float", "Floated", critical=True)


def attempt(manoeuvre: str, *faults: FaultFact, **more: Any) -> AttemptFact:
    return AttemptFact(manoeuvre, more.pop("level", Level.PERFORM), faults=faults, **more)


def history_of(*lessons: list[CircuitFact]) -> History:
    rows = tuple(
        LessonFact(
            number, day := FIRST_DAY + timedelta(days=number), "Bert", signed=day, aircraft_type="t",
            circuits=tuple(circuits),
        )
        for number, circuits in enumerate(lessons, 1)
    )  # fmt: skip
    facts = Facts(StudentFact("Dora"), AircraftTypeFact("t", "T", tailwheel=False), lessons=rows)
    return History.from_facts(facts, STANDARD, FIRST_DAY + timedelta(days=400))


def landings(*faults: tuple[FaultFact, ...]) -> list[CircuitFact]:
    return [CircuitFact(number, landing=attempt("landing", *seen)) for number, seen in enumerate(faults, 1)]


def test_a_fault_clears_after_the_clean_attempts_of_the_standard_and_opens_again() -> None:
    history = history_of(landings((HIGH,), (), (HIGH,), ()), landings(*[()] * 3, (HIGH,)))
    assert history.clean_needed == 3
    (course,) = fault_courses(history)
    assert course.seen == (0, 2, 7)
    assert course.spans == ((0, 5), (7, None))


def random_lessons(chance: random.Random) -> Iterator[list[CircuitFact]]:
    for _ in range(chance.randint(1, 6)):
        yield [
            CircuitFact(
                number,
                approach=attempt("approach", *chance.choice([(), (), (HIGH,)])),
                landing=attempt(
                    "landing", *chance.choice([(), (), (HIGH,), (LONG,), (HIGH, LONG)]),
                    level=chance.choice([Level.PERFORM, Level.NOT_OBSERVED, None]),
                ),
            )
            for number in range(1, chance.randint(2, 6))
        ]  # fmt: skip


@pytest.mark.parametrize("seed", range(200))
def test_what_is_open_at_the_end_is_what_the_verdict_calls_open(seed: int) -> None:
    history = history_of(*random_lessons(random.Random(seed)))
    still = {(row.manoeuvre, row.code) for row in fault_courses(history) if row.spans[-1][1] is None}
    assert still == {(row.manoeuvre, row.code) for row in open_faults(history)}


def test_a_part_shows_what_it_counts_as_and_its_help() -> None:
    number = GateNumberFact("final", "speed", 12.0, 10, 5, "kt")
    circuits = [
        CircuitFact(1, approach=attempt("approach", help=Help.PROMPTED), landing=attempt("landing")),
        CircuitFact(2, approach=attempt("approach", numbers=(number,)), ending=Ending.GO_AROUND),
    ]
    progress = build_progress(history_of(circuits), 60)
    grades = {row.part: row.grades for row in progress.parts}
    # Prompted, and a number outside its tolerance, both count as Practice (grading/rules/counted_level.py).
    assert grades["approach"] == (("practice", "prompted"), ("practice", "none"))
    assert grades["landing"] == (("perform", "none"), ("go_around", "none"))
    assert grades["takeoff"] == (None, None)
    (course,) = progress.numbers
    assert (course.gate, course.amounts) == ("final", (None, 12.0))


def test_only_the_last_circuits_are_drawn_with_what_was_open_in_them() -> None:
    history = history_of(landings((HIGH,), (), (), ()), landings((), (LONG,), ()))
    whole, newest = build_progress(history, 60), build_progress(history, 3)
    assert [row.name for row in whole.faults] == ["Floated", "High on final"]
    assert newest.columns == ((2, 1), (2, 2), (2, 3))
    (line,) = newest.faults
    assert (line.seen, line.spans) == ((1,), ((1, None),))
    assert {len(row.grades) for row in newest.parts} == {3}


def test_without_circuits_there_is_nothing_to_draw() -> None:
    progress = build_progress(history_of(), 60)
    assert (progress.columns, progress.numbers, progress.faults) == ((), (), ())
