"""What a track is measured against: gates, runway, wind and the speeds of the type."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from lessons.rules.flight_track.place import FOOT, RunwaySite
from lessons.rules.pattern import Shape, Station, Track

KNOT = 0.514444
# How well the wind of a lesson is known, 1 standard deviation: reported, and where nobody said it.
WIND_KNOWN_KT, WIND_UNKNOWN_KT = 3.0, 8.0


@dataclass(frozen=True)
class FieldWind:
    """The wind at the field: degrees true from which it blows, knots; no gusts."""

    from_true: float
    speed_kt: float


@dataclass(frozen=True)
class GateSpot:
    """A gate with the quantities that have a target at it."""

    station: Station
    quantities: frozenset[str]


@dataclass(frozen=True)
class TrackSetting:
    """The gates of the type, its stall speed in landing configuration, the height of the circuit, and the wind.

    track: the target over the ground; without one no gate can be found, and only endings are told. wind: None where
    nobody said it.
    """

    gates: Sequence[GateSpot]
    shape: Shape
    track: Track | None
    stall_kt: float
    elevation_ft: float
    circuit_height_ft: float
    wind: FieldWind | None

    def wind_along(self, runway: RunwaySite) -> tuple[float, float]:
        """Return the air's own movement at the field, m/s: along the takeoff, to the side of the circuit."""
        return (0.0, 0.0) if self.wind is None else air_movement(self.wind, runway.heading_true, left=runway.left)

    @property
    def stall(self) -> float:
        """Return the stall speed in m/s through the air at the field's height (ICAO standard atmosphere)."""
        return self.stall_kt * KNOT / math.sqrt(density_ratio(self.elevation_ft * FOOT))

    @property
    def circuit_height(self) -> float:
        return self.circuit_height_ft * FOOT

    @property
    def wind_sigma(self) -> float:
        return (WIND_UNKNOWN_KT if self.wind is None else WIND_KNOWN_KT) * KNOT


def air_movement(wind: FieldWind, heading_true: float, *, left: bool) -> tuple[float, float]:
    """Return the movement of the air along a takeoff and to the side of its circuit, m/s."""
    # The air moves to where the wind does not come from.
    angle = math.radians(wind.from_true + 180 - heading_true)
    along, right = wind.speed_kt * KNOT * math.cos(angle), wind.speed_kt * KNOT * math.sin(angle)
    return along, -right if left else right


def density_ratio(height_m: float) -> float:
    """Return the density of the standard atmosphere over that at sea level, below 11 km.

    288.15 K, 6.5 K/km, exponent 4.2559 (ICAO Doc 7488, from memory); 5,000 ft: 0.8617.
    """
    ratio: float = (1 - 0.0065 * height_m / 288.15) ** 4.2559
    return ratio
