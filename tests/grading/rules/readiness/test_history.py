"""What the standard asks of each part of the circuit reaches whatever counts attempts, part by part."""

from dataclasses import replace
from datetime import date
from pathlib import Path

from grading.rules.forecast import forecast_first_run
from grading.rules.readiness import Facts, StandardSpec
from grading.rules.readiness.facts import AircraftTypeFact, AttemptFact, CircuitFact, LessonFact, StudentFact
from grading.rules.readiness.history import History
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.relapse import find_slips
from lessons.rules.scale import Ending, Level

STANDARD = standard_from_json((Path(__file__).parents[4] / "fixtures/standards/us.json").read_text())
DAY = date(2026, 6, 1)
GOOD, BAD = Level.PERFORM, Level.PRACTICE


def standard_with(**needed: int) -> StandardSpec:
    """Return the standard with other numbers in a row; a part given 0 is asked for no row."""
    rows = []
    for spec in STANDARD.requirements:
        part = spec.words("part")[0] if spec.check == "in_a_row" else ""
        if part not in needed:
            rows.append(spec)
        elif needed[part]:
            rows.append(replace(spec, values={**spec.values, "needed": needed[part]}))
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


def test_each_part_has_its_own_number_in_a_row() -> None:
    history = history_of(standard_with(takeoff=3, landing=5))
    assert history.streaks_needed == {"takeoff": 3, "approach": 3, "landing": 5}


def test_a_part_that_is_asked_for_no_row_counts_three() -> None:
    """Three in a row: common practice."""
    history = history_of(standard_with(takeoff=0, approach=0, landing=5))
    assert history.streaks_needed == {"takeoff": 3, "approach": 3, "landing": 5}


def test_a_slip_follows_the_row_that_its_own_part_needs() -> None:
    """Three good ones were a full row of takeoffs and not of landings, so only the takeoff can slip back."""
    flown = [GOOD, GOOD, GOOD, BAD, BAD, BAD]
    assert set(find_slips(history_of(standard_with(takeoff=3, landing=5), *flown))) == {"takeoff"}
    assert set(find_slips(history_of(standard_with(takeoff=3, landing=3), *flown))) == {"takeoff", "landing"}


def test_the_forecast_waits_for_each_part_as_long_as_that_part_needs() -> None:
    flown = {part: [True, True, True] for part in ("takeoff", "approach", "landing")}
    streaks = dict.fromkeys(flown, 3)
    there = forecast_first_run(flown, {"takeoff": 3, "approach": 3, "landing": 3}, streaks)
    not_yet = forecast_first_run(flown, {"takeoff": 3, "approach": 3, "landing": 5}, streaks)
    assert there.middle == 0
    assert not_yet.early >= 2
    one_short = forecast_first_run(flown, {"takeoff": 3, "approach": 3, "landing": 4}, streaks)
    assert (one_short.early, one_short.middle) < (not_yet.early, not_yet.middle)
