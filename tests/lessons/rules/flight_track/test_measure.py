"""Circuits measured from tracks against the truth of a simulator that knows nothing of the measuring.

The figures of acceptance were set before on other flights; `python -m tests.lessons.rules.flight_track 50` prints them
for as many lessons as one likes.
"""

import sys
from datetime import date
from functools import lru_cache

import numpy as np
import pytest

from grading.simulation.flight.flying import Aeroplane, Air, NoisyReceiver, Plan, Truth
from grading.simulation.flight.gate_sets import gate_set
from lessons.rules.flight_track import MeasuredFlight, RunwaySite, measure_flight
from lessons.rules.flight_track.flight import Fixes
from tests.lessons.rules.flight_track.trial import (
    Lesson,
    Score,
    flown_lesson,
    measure,
    placed,
    runway_at,
    score,
    setting_of,
    true_circuits,
)

SEEDS = range(40, 44)
PHONE, LOGGER = NoisyReceiver(), NoisyReceiver(by_pressure=True)
# 19 of 20 readings lie within their uncertainty; of so few circuits as here a tenth may lie outside by chance.
MOST_OUTSIDE = 0.1


@lru_cache
def scored(name: str, *, by_pressure: bool, left: bool) -> Score:
    return score(name, LOGGER if by_pressure else PHONE, SEEDS, left=left)


SETS = [("tailwheel", True), ("tailwheel", False), ("nosewheel", True), ("nosewheel", False)]


@pytest.mark.parametrize(("name", "left"), SETS)
@pytest.mark.parametrize("by_pressure", [True, False])
def test_endings(name: str, left: bool, by_pressure: bool) -> None:
    found = scored(name, by_pressure=by_pressure, left=left)
    assert found.right("full_stop") == 1
    assert found.right("touch_and_go") >= (0.9 if by_pressure else 0.6)
    assert found.right("go_around") >= 0.8
    assert found.landings_that_were_none() == 0
    # Every circuit is found and none invented.
    assert not [key for key in found.endings if "lost" in key or "none" in key]


@pytest.mark.parametrize(("name", "left"), SETS)
@pytest.mark.parametrize("by_pressure", [True, False])
def test_readings_lie_within_their_uncertainty(name: str, left: bool, by_pressure: bool) -> None:
    found = scored(name, by_pressure=by_pressure, left=left)
    assert found.count["height"] > 150
    shares = {kind: found.outside[kind] / found.count[kind] for kind in found.count}
    assert {kind: share for kind, share in shares.items() if share > MOST_OUTSIDE} == {}
    # What is not told are gates that a go-around never reached, and no others.
    assert found.untold["height"] < 0.15 * found.count["height"]


@pytest.mark.parametrize(("name", "left"), SETS)
def test_lessons_that_nobody_has_seen_before(name: str, left: bool) -> None:
    """New flights each month, by the month: what is tuned to old ones shows here."""
    month = date.today().year * 12 + date.today().month
    sys.stdout.write(f"\nseed of this month: {month}\n")
    found = score(name, LOGGER, range(month, month + 1), left=left)
    assert found.landings_that_were_none() == 0
    assert found.right("full_stop") == 1
    assert found.outside["height"] <= MOST_OUTSIDE * found.count["height"]


@pytest.mark.parametrize(
    ("latitude", "longitude"), [(52.0, 179.9999), (52.0, -179.9999), (89.0, 10.0), (-89.0, -100.0), (0.0, 0.0)]
)
def test_the_date_line_the_poles_and_the_equator(latitude: float, longitude: float) -> None:
    lesson = flown(Air(-4, 1), Plan(), Plan("full_stop"))
    measured = measure(lesson, LOGGER, 1, runway_at(latitude, longitude))
    assert [row.ended for row in measured.circuits] == ["touch_and_go", "full_stop"]
    found = Score()
    found.add(lesson, measured)
    assert found.outside["height"] <= 1


def test_a_short_landing_that_stops_before_the_point_is_scored() -> None:
    """The truth is asked when it came over the point, which this one never did."""
    lesson = flown_lesson("nosewheel", 24325)
    (*_, last) = true_circuits(lesson)
    assert last.ending == "full_stop"


def flown(air: Air, *plans: Plan, seed: int = 1) -> Lesson:
    gates = gate_set("tailwheel")
    return Lesson(gates, air, Aeroplane(gates, air, seed).fly(plans))


def endings(measured: MeasuredFlight) -> list[tuple[int, str]]:
    return [(row.runway, row.ended) for row in measured.circuits]


def test_an_orbit_leaves_out_what_it_makes_doubtful() -> None:
    lesson = flown(Air(-4, 2), Plan(), Plan(orbit=True), Plan("full_stop"))
    measured = measure(lesson, LOGGER, 1, runway_at())
    assert [abs(row.orbits) for row in measured.circuits] == [0, 1, 0]
    told = [{row.gate for row in circuit.readings if row.value is not None} for circuit in measured.circuits]
    assert "abeam" in told[0] & told[2]
    assert not told[1] & {"join", "downwind", "abeam", "turn"}
    assert {"first-turn", "final", "touchdown"} <= told[1]
    found = Score()
    found.add(lesson, measured)
    assert found.outside["height"] <= 1


RUNWAYS = [
    runway_at(),
    runway_at(heading=257, key=2, designator="25"),
    runway_at(52.001, -1.5, 127.0, key=3, designator="13"),
    runway_at(51.999, -1.503, 307.0, key=4, designator="31"),
]


def both(first: tuple[Truth, RunwaySite], second: tuple[Truth, RunwaySite]) -> Fixes:
    later = first[0].columns["t"][-1] + 240
    parts = placed(PHONE.note(first[0], 1), first[1]), placed(PHONE.note(second[0], 2), second[1], later)
    names = ("seconds", "latitude", "longitude", "height")
    return Fixes(*(np.concatenate([getattr(part, name) for part in parts]) for name in names), False)


def test_crossing_and_opposite_runways_are_told_apart() -> None:
    lesson = flown(Air(-4, 1), Plan(), Plan("go_around", climbs_away_at=15), Plan("full_stop"))
    fixes = placed(PHONE.note(lesson.truth, 5), RUNWAYS[0])
    measured = measure_flight(fixes, RUNWAYS, setting_of(lesson, RUNWAYS[0]))
    assert endings(measured) == [(1, "touch_and_go"), (1, "go_around"), (1, "full_stop")]


def test_two_runways_one_after_the_other() -> None:
    first = flown(Air(-4, 1), Plan(), Plan("full_stop"), seed=7)
    second = flown(Air(-4, 1), Plan(), Plan("go_around"), Plan("full_stop"), seed=8)
    fixes = both((first.truth, RUNWAYS[0]), (second.truth, RUNWAYS[2]))
    measured = measure_flight(fixes, RUNWAYS, setting_of(first, RUNWAYS[0]))
    told = endings(measured)
    assert told[:2] == [(1, "touch_and_go"), (1, "full_stop")]
    assert [runway for runway, _ in told[2:]] == [3, 3, 3]
    assert [ended for _, ended in told[3:]] == ["go_around", "full_stop"]


def test_gaps_leave_gates_out_and_invent_nothing() -> None:
    found = score("tailwheel", NoisyReceiver(drops=1 / 240), range(40, 42))
    assert found.landings_that_were_none() == 0
    assert not [key for key in found.endings if "lost" in key or "none" in key]
    assert found.outside["height"] <= MOST_OUTSIDE * found.count["height"]


@pytest.mark.parametrize("step", [7.0, 30.0])
def test_positions_too_far_apart_are_not_measured(step: float) -> None:
    lesson = flown(Air(-4, 1), Plan("full_stop"))
    assert measure(lesson, NoisyReceiver(step=step), 1, runway_at()).circuits == ()


def test_a_track_of_no_flight_has_no_circuits() -> None:
    seconds = np.arange(0.0, 600.0)
    still = np.full(600, 52.0), np.full(600, -1.5), np.full(600, 100.0)
    lesson = flown(Air(0, 0), Plan("full_stop"))
    measured = measure_flight(Fixes(seconds, *still, True), [runway_at()], setting_of(lesson, runway_at()))
    assert (measured.circuits, measured.begins) == ((), None)
    assert measure_flight(Fixes(seconds, *still, True), [], setting_of(lesson, runway_at())).circuits == ()


def test_a_circuit_to_the_other_side_is_told_and_not_measured_between() -> None:
    lesson = flown(Air(-4, 0), Plan(), Plan("full_stop"))
    there, charted = runway_at(left=True), runway_at(left=False)
    fixes = placed(LOGGER.note(lesson.truth, 1), there, by_pressure=True)
    measured = measure_flight(fixes, [charted], setting_of(lesson, there))
    assert [(row.ended, row.orbits) for row in measured.circuits] == [("touch_and_go", -2), ("full_stop", -2)]
    assert "abeam" not in {row.gate for row in measured.circuits[0].readings if row.value is not None}
