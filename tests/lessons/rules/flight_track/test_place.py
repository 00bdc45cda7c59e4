"""Metres along a runway against geodesics of a general reference library (geographiclib 2.1, Karney's algorithms)."""

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from lessons.rules.flight_track.place import RunwaySite, from_threshold
from lessons.rules.flight_track.setting import density_ratio

# How far out, and the error that is allowed there, metres: a hundredth of what a receiver's wander is, near the field.
DISTANCES = ((1_000, 0.2), (2_000, 0.8), (5_000, 4.5), (10_000, 18.0))


def runway(latitude: float, longitude: float, heading: float, *, left: bool = True) -> RunwaySite:
    return RunwaySite(1, "18", latitude, longitude, heading, 3000, 0, left)


@pytest.mark.parametrize(("latitude", "longitude"), [(52.0, -1.5), (-33.0, 151.0), (65.0, 179.999), (0.0, -179.999)])
@pytest.mark.parametrize("bearing", [0, 45, 137, 270])
def test_a_place_is_where_the_geodesic_leads(latitude: float, longitude: float, bearing: float) -> None:
    heading = 77.0
    for distance, allowed in DISTANCES:
        there = Geodesic.WGS84.Direct(latitude, longitude, bearing, distance)
        x, y = from_threshold(
            np.array([there["lat2"]]), np.array([there["lon2"]]), runway(latitude, longitude, heading)
        )
        angle = math.radians(bearing - heading)
        assert math.hypot(x[0] - distance * math.cos(angle), y[0] + distance * math.sin(angle)) < allowed


def test_the_side_of_the_circuit_is_positive_on_either_hand() -> None:
    east = np.array([-1.4]), np.array([52.0])
    for left, side in ((False, 1), (True, -1)):
        _, across = from_threshold(east[1], east[0], runway(52.0, -1.5, 0.0, left=left))
        assert across[0] * side > 6000


def test_the_standard_atmosphere_at_the_heights_of_aerodromes() -> None:
    # U.S. Standard Atmosphere 1976 (from memory): 0.8617 at 5,000 ft, 0.7385 at 10,000 ft.
    for feet, ratio in ((0, 1.0), (5_000, 0.8617), (10_000, 0.7385)):
        assert density_ratio(feet * 0.3048) == pytest.approx(ratio, abs=0.0003)
