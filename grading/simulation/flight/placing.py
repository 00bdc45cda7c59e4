"""Put what a receiver noted of a simulated flight on the earth, at a runway."""

import math
from typing import Any

import numpy as np

from lessons.rules.flight_track.flight import Fixes
from lessons.rules.flight_track.place import FLATTENING, FOOT, SEMI_MAJOR_AXIS_M, Floats, RunwaySite


def place_noted(noted: dict[str, Any], runway: RunwaySite, begins: int, *, by_pressure: bool = False) -> Fixes:
    """Return the fixes; begins: seconds since 1970, whole, so that a flight of another day measures the same."""
    latitude, longitude = on_earth(noted["x"] + runway.touchdown_ft * FOOT, noted["y"], runway)
    return Fixes(np.round(noted["t"]) + begins, latitude, longitude, noted["h"], by_pressure)


def on_earth(along: Floats, across: Floats, runway: RunwaySite) -> tuple[Floats, Floats]:
    """Return latitude and longitude of places in metres from the threshold: along, and to the side of the circuit."""
    right = -across if runway.left else across
    cosine, sine = math.cos(math.radians(runway.heading_true)), math.sin(math.radians(runway.heading_true))
    north, east = along * cosine - right * sine, along * sine + right * cosine
    squared = FLATTENING * (2 - FLATTENING)
    steep = 1 - squared * math.sin(math.radians(runway.latitude)) ** 2
    latitude = runway.latitude + np.degrees(north * steep**1.5 / (SEMI_MAJOR_AXIS_M * (1 - squared)))
    parallel = SEMI_MAJOR_AXIS_M / math.sqrt(steep) * np.cos(np.radians((latitude + runway.latitude) / 2))
    return latitude, runway.longitude + np.degrees(east / parallel)
