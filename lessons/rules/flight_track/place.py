"""Turn degrees into metres along and across a runway.

Radii of curvature of the WGS 84 ellipsoid, whose defining parameters are a = 6,378,137 m and 1/f = 298.257223563
(NIMA TR8350.2, from memory). tests/ hold the result against a general geodesic library.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SEMI_MAJOR_AXIS_M = 6_378_137.0
FLATTENING = 1 / 298.257223563
FOOT = 0.3048
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class RunwaySite:
    """One direction of a runway by its threshold: degrees, true heading; feet; the side of its circuit.

    key: what the caller calls it by.
    """

    key: int
    designator: str
    latitude: float
    longitude: float
    heading_true: float
    length_ft: float
    touchdown_ft: float
    left: bool


def east_north(latitude: Floats, longitude: Floats, runway: RunwaySite) -> tuple[Floats, Floats]:
    """Return metres east and north of the threshold; within 10 km the error is below one in a thousand."""
    squared = FLATTENING * (2 - FLATTENING)
    sine = math.sin(math.radians(runway.latitude)) ** 2
    meridian = SEMI_MAJOR_AXIS_M * (1 - squared) / (1 - squared * sine) ** 1.5
    vertical = SEMI_MAJOR_AXIS_M / math.sqrt(1 - squared * sine)
    north = np.radians(latitude - runway.latitude) * meridian
    # Over the date line the difference of two longitudes jumps by 360 degrees.
    degrees = (longitude - runway.longitude + 180) % 360 - 180
    east = np.radians(degrees) * vertical * np.cos(np.radians((latitude + runway.latitude) / 2))
    return east, north


def along_across(east: Floats, north: Floats, runway: RunwaySite) -> tuple[Floats, Floats]:
    """Turn a place or a speed: along the takeoff, and to the side of the circuit."""
    cosine, sine = math.cos(math.radians(runway.heading_true)), math.sin(math.radians(runway.heading_true))
    right = east * cosine - north * sine
    return north * cosine + east * sine, -right if runway.left else right


def from_threshold(latitude: Floats, longitude: Floats, runway: RunwaySite) -> tuple[Floats, Floats]:
    """Return metres along the takeoff from the point that is aimed at, and to the side of the circuit."""
    along, across = along_across(*east_north(latitude, longitude, runway), runway)
    return along - runway.touchdown_ft * FOOT, across
