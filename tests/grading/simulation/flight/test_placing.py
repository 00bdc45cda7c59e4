"""Where simulated flights are put on the earth, against a general geodesic library (geographiclib)."""

from dataclasses import replace

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from grading.simulation.flight.placing import place_noted
from tests.lessons.rules.flight_track.trial import placed, runway_at

PLACES = {
    "t": np.arange(5) * 1.0,
    "x": np.array([0.0, 900.0, -2000.0, 3000.0, -50.0]),
    "y": np.array([0.0, 1200.0, 2500.0, -400.0, 10.0]),
    "h": np.zeros(5),
}


@pytest.mark.parametrize(("latitude", "left"), [(47.5, True), (-33.0, False), (65.0, True)])
def test_places_lie_where_a_geodesic_library_has_them(latitude: float, left: bool) -> None:
    runway = replace(runway_at(latitude, 179.99, 67.0), left=left)
    ours, theirs = place_noted(PLACES, runway, 1_800_000_000), placed(PLACES, runway)
    for k in range(len(PLACES["t"])):
        apart = Geodesic.WGS84.Inverse(ours.latitude[k], ours.longitude[k], theirs.latitude[k], theirs.longitude[k])
        assert apart["s12"] < 5.0
    # Whole seconds of any day: a lesson of another day is measured by the same numbers.
    assert list(ours.seconds - 1_800_000_000) == [0, 1, 2, 3, 4]
