"""Lay out the circuit as a closed track over the ground from the distances of its gates. Pure. Feet.

The track begins at the lift-off (distance 0), runs out, across, back and in, and ends at the touchdown. Where
each leg lies follows from four distances: the turn begins at the last gate of the upwind leg; one gate lies
abeam the point; the first gate of the final leg is where it is wings level; the last gate is the touchdown.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

# The one code that the layout needs: without it the length of the downwind leg is unknown.
ABEAM = "abeam"


class Leg(StrEnum):
    UPWIND = "upwind"
    CROSSWIND = "crosswind"
    DOWNWIND = "downwind"
    BASE = "base"
    FINAL = "final"

    @property
    def label(self) -> str:
        return self.value

    @property
    def rank(self) -> int:
        return list(Leg).index(self)


class Shape(StrEnum):
    """Name the shape: four corners, or two continuous turns of half a circle."""

    SQUARE = "square"
    OVAL = "oval"

    @property
    def label(self) -> str:
        return {"square": "four corners", "oval": "two continuous turns"}[self.value]


class UnclosedCircuit(ValueError):
    """Refuse distances that do not make a circuit; the text names them."""


@dataclass(frozen=True, slots=True)
class Station:
    """Place a gate on its leg, by the distance flown since the lift-off."""

    code: str
    leg: Leg
    along_ft: int


@dataclass(frozen=True)
class Track:
    """Describe a track out along +x and back at y = width; the touchdown is at 0, 0 and the circuit lies at +y."""

    shape: Shape
    out: float
    across: float
    back: float
    inbound: float

    @property
    def lift_off_x(self) -> float:
        return self.back - self.out - self.inbound

    @property
    def width(self) -> float:
        """Return the distance between the runway and the downwind leg."""
        # In an oval the way across is half a circle, whose diameter is the width.
        return self.across if self.shape is Shape.SQUARE else 2 * self.across / math.pi

    @property
    def length(self) -> float:
        return self.out + self.back + self.inbound + 2 * self.across

    @property
    def corners(self) -> tuple[float, float, float, float]:
        """Return the distances at which a leg ends."""
        out, across, back = self.out, self.across, self.back
        return out, out + across, out + across + back, out + 2 * across + back

    def position_at(self, along: float) -> tuple[float, float]:
        """Return where the track is after a distance, in feet from the touchdown point."""
        far, near = self.lift_off_x + self.out, -self.inbound
        if along <= self.out:
            return self.lift_off_x + along, 0.0
        along -= self.out
        if along <= self.across:
            return self._across(far, along / self.across, 1)
        along -= self.across
        if along <= self.back:
            return far - along, self.width
        along -= self.back
        if along <= self.across:
            return self._across(near, along / self.across, -1)
        return near + along - self.across, 0.0

    def _across(self, x: float, share: float, side: int) -> tuple[float, float]:
        """Return the point at a share of the way from the runway's line to downwind (side 1) or back (side -1)."""
        if self.shape is Shape.SQUARE:
            return x, self.width * (share if side > 0 else 1 - share)
        radius, angle = self.width / 2, math.pi * share
        return x + side * radius * math.sin(angle), radius - side * radius * math.cos(angle)


def lay_out(stations: Sequence[Station], shape: Shape) -> Track:
    """Return the track that passes each station at its distance. UnclosedCircuit with the reason where none does."""
    upwind = [row for row in stations if row.leg is Leg.UPWIND]
    final = [row for row in stations if row.leg is Leg.FINAL]
    abeam = next((row for row in stations if row.code == ABEAM and row.leg is Leg.DOWNWIND), None)
    if not upwind or not final or abeam is None:
        raise UnclosedCircuit(
            "A circuit needs gates on the upwind and the final leg, and one on the downwind leg with the code"
            " “abeam”, abeam the touchdown point: the drawing hangs on them."
        )
    total, out = stations[-1].along_ft, upwind[-1].along_ft
    inbound = total - final[0].along_ft
    # From abeam the track runs past the point by the length of the final, turns across, and comes in by that length.
    across = total - abeam.along_ft - 2 * inbound
    if across <= 0:
        raise UnclosedCircuit(
            f"From abeam the point to the touchdown are {total - abeam.along_ft:,} ft, too few for a final of"
            f" {inbound:,} ft, as far again on the downwind leg, and the turn between: check these distances."
        )
    # The way from the first turn to abeam, and from there past the point by the length of the final.
    back = abeam.along_ft - out - across + inbound
    if back <= inbound:
        raise UnclosedCircuit(
            f"The gate abeam the point, at {abeam.along_ft:,} ft, comes before the downwind leg can: out to the first"
            f" turn are {out:,} ft, and each turn takes {across:,} ft."
        )
    return Track(shape, out, across, back, inbound)
