"""A way laid along the target's way: distances, speeds, and the bank held against what the simulator really flew."""

import math

import numpy as np
import pytest

from grading.simulation.flight.flying import FOOT, KNOT, Aeroplane, Air, Plan
from grading.simulation.flight.gate_sets import GateSetFile, gate_set
from lessons.rules.flight_track.along_target import AlongPoint, lay_along
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.wind import turn_radius_ft

WIND = (-8 * KNOT, 3 * KNOT)


def flown_way(gates: GateSetFile) -> tuple[list[Point], dict[str, np.ndarray]]:
    """One circuit as it is kept: every two seconds from the lift-off, in whole feet; and the truth at those places."""
    truth = Aeroplane(gates, Air(*WIND, growth=0.5, veer=0.0, gust=0.0), seed=5).fly([Plan("touch_and_go", aim=60)])
    columns = truth.columns
    begins, ends = (next(row.at for row in truth.events if row.kind == kind) for kind in ("lift_off", "touchdown"))
    places = np.arange(np.searchsorted(columns["t"], begins), np.searchsorted(columns["t"], ends), 20)
    rows = {name: values[places] for name, values in columns.items()}
    way = zip(rows["x"] / FOOT, rows["y"] / FOOT, rows["h"] / FOOT, rows["t"] - rows["t"][0], strict=True)
    return [(round(x), round(y), round(h), round(t)) for x, y, h, t in way], rows


@pytest.fixture(scope="module", params=["tailwheel", "nosewheel"])
def laid(request: pytest.FixtureRequest) -> tuple[GateSetFile, list[AlongPoint], dict[str, np.ndarray]]:
    gates = gate_set(request.param)
    way, truth = flown_way(gates)
    points = lay_along(way, gates.track, WIND, 0.0)
    return gates, points, {name: values[len(way) - len(points) :] for name, values in truth.items()}


def test_it_goes_round_once_and_never_back(
    laid: tuple[GateSetFile, list[AlongPoint], dict[str, np.ndarray]],
) -> None:
    gates, points, truth = laid
    along = [row.along for row in points]
    assert along == sorted(along)
    assert along[0] < 1000
    assert along[-1] == pytest.approx(gates.track.length, abs=700)
    for row, x, y in zip(points, truth["x"], truth["y"], strict=True):
        there = gates.track.position_at(min(row.along, gates.track.length))
        assert math.dist(there, (x / FOOT, y / FOOT)) < 900


def test_speeds_and_bank_are_those_that_were_flown(
    laid: tuple[GateSetFile, list[AlongPoint], dict[str, np.ndarray]],
) -> None:
    _, points, truth = laid
    # The wind grows in the simulator as it is taken to, so what is left is whole feet, two seconds and a curve.
    speed = np.array([row.airspeed for row in points]) - truth["airspeed"] / KNOT
    bank = np.array([row.bank for row in points]) - truth["bank"]
    assert np.percentile(np.abs(speed), 95) < 2.5
    assert np.percentile(np.abs(bank), 90) < 4.0
    assert max(row.bank or 0 for row in points) == pytest.approx(truth["bank"].max(), abs=5)


def test_the_bank_asked_for_is_that_of_a_round_path() -> None:
    """Half the width of the oval, 76 kt over still ground: the bank by the radius of turn (FAA-H-8083-25C ch. 5)."""
    gates = gate_set("tailwheel")
    track = gates.track
    speed = 76 * KNOT / FOOT  # feet a second
    begins, ends = track.corners[2] - 2000, track.corners[3] + 2000
    way = [
        (*map(round, track.position_at(begins + speed * second)), 500, second)
        for second in range(0, round((ends - begins) / speed), 2)
    ]
    points = lay_along(way, track, (0.0, 0.0), 0.0)
    turning = [row for row in points if track.corners[2] + 800 < row.along < track.corners[3] - 800]
    for row in turning:
        assert row.bank_asked is not None
        assert turn_radius_ft(row.ground_speed, row.bank_asked) == pytest.approx(track.width / 2, rel=0.01)
        assert row.bank == pytest.approx(row.bank_asked, abs=1.0)
    assert all(row.bank_asked is None for row in points if row.along < track.corners[2])
    assert all(row.bank_asked is None for row in lay_along(way, gate_set("nosewheel").track, (0.0, 0.0), 0.0))


def test_without_a_wind_neither_airspeed_nor_bank_is_told() -> None:
    gates = gate_set("tailwheel")
    points = lay_along(flown_way(gates)[0], gates.track, None, 0.0)
    assert {(row.airspeed, row.bank, row.bank_asked) for row in points} == {(None, None, None)}
    assert lay_along([(0, 0, 0, 0)], gates.track, None, 0.0) == []
