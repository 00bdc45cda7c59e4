"""Packed positions and ways come out as they went in, to a hand's breadth and a foot."""

import zlib

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from lessons.rules.flight_track.flight import Fixes
from lessons.rules.flight_track.packed_track import (
    pack_positions,
    pack_readings,
    pack_ways,
    unpack_positions,
    unpack_readings,
    unpack_ways,
)

PLACES = st.tuples(st.floats(0, 86_400), st.floats(-90, 90), st.floats(-180, 180), st.floats(-400, 9000))
POINTS = st.tuples(*[st.integers(-60_000, 60_000)] * 4)


@given(st.lists(PLACES, min_size=1, max_size=40))
def test_positions(rows: list[tuple[float, float, float, float]]) -> None:
    seconds, latitude, longitude, height = np.array(rows, dtype=float).T
    given_fixes = Fixes(seconds + 1.78e9, latitude, longitude, height, True)
    found = unpack_positions(pack_positions(given_fixes), by_pressure=True)
    assert np.abs(found.seconds - given_fixes.seconds).max() < 0.001
    assert np.abs(found.latitude - latitude).max() < 1e-6
    assert np.abs(found.longitude - longitude).max() < 1e-6
    assert np.abs(found.height - height).max() < 0.051


@given(st.lists(st.lists(POINTS, min_size=1, max_size=20), max_size=4))
def test_ways(ways: list[list[tuple[int, int, int, int]]]) -> None:
    assert unpack_ways(pack_ways(ways)) == [[tuple(map(float, point)) for point in way] for way in ways]


def test_ways_and_readings_as_they_were_stored_before_are_read_too() -> None:
    earlier = zlib.compress(b"[[[1,2],[3,0],[4,-1],[0,2]]]")
    assert unpack_ways(earlier) == [[(1.0, 3.0, 4.0, 0.0), (3.0, 3.0, 3.0, 2.0)]]
    rows = [
        {"gate": "abeam", "quantity": "height", "value": 712.0, "error": 65.0, "why_not": ""},
        {"gate": "final", "quantity": "speed", "value": None, "error": 0.0, "why_not": "no wind"},
    ]
    assert unpack_readings(pack_readings(rows)) == unpack_readings(rows) == rows
    assert unpack_readings(pack_readings([])) == []


def test_two_hours_take_less_than_forty_kilobytes() -> None:
    rng, seconds = np.random.default_rng(1), np.arange(7200.0)
    angle = seconds / 40
    noise = rng.normal(0, 1e-6, (2, 7200))
    fixes = Fixes(
        seconds + 1.78e9,
        52 + 0.01 * np.sin(angle) + noise[0],
        -1.5 + 0.02 * np.cos(angle) + noise[1],
        300 + 100 * np.sin(angle) + rng.normal(0, 1, 7200),
        False,
    )
    assert len(pack_positions(fixes)) < 40_000
