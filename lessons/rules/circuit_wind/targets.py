"""Read heights and speeds along the circuit from the targets of its gates. Pure. Feet, knots, degrees."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lessons.rules.circuit_wind.air import CannotFly
from lessons.rules.pattern import Leg, Shape, Station, Track, UnclosedCircuit, lay_out


@dataclass(frozen=True, slots=True)
class GateAim:
    """Give what a gate asks for, in feet, knots and degrees; None where it asks for nothing."""

    code: str
    name: str
    leg: Leg
    along_ft: int
    height_ft: float | None = None
    speed_kt: float | None = None
    bank_deg: float | None = None


@dataclass(frozen=True)
class CircuitTargets:
    """Hold the gates of a type in the order flown, and its stalling speed in landing configuration."""

    gates: tuple[GateAim, ...]
    shape: Shape
    stall_landing_kt: float

    def lay_out(self) -> Track:
        """Return the track over the ground. CannotFly where the gates do not make one, or have no heights or speeds."""
        try:
            track = lay_out([Station(gate.code, gate.leg, gate.along_ft) for gate in self.gates], self.shape)
        except UnclosedCircuit as error:
            raise CannotFly(str(error)) from error
        inbound = [gate for gate in self.gates if gate.leg in (Leg.DOWNWIND, Leg.BASE, Leg.FINAL)]
        if not any(gate.height_ft for gate in inbound) or not any(gate.speed_kt for gate in inbound):
            raise CannotFly(
                "The gates from the downwind leg to final have no height or no speed: nothing can be worked out from"
                " them."
            )
        return track

    def height_at(self, along_ft: float) -> float:
        """Return the height on the straight line between the gates; the ground at both ends."""
        rows = [(float(gate.along_ft), gate.height_ft) for gate in self.gates if gate.height_ft is not None]
        length = float(self.gates[-1].along_ft)
        known = [row for row in rows if 0 < row[0] < length]
        return _between([(0.0, 0.0), *known, (length, 0.0)], along_ft)

    def speed_at(self, along_ft: float) -> float:
        """Return the airspeed on the straight line between the gates, and that of the nearest gate beyond them."""
        rows = [(float(gate.along_ft), gate.speed_kt) for gate in self.gates if gate.speed_kt is not None]
        return _between(rows, along_ft)

    @property
    def target_bank(self) -> float | None:
        """Return the bank that a gate of the turn asks for."""
        banks = [gate.bank_deg for gate in self.gates if gate.leg in (Leg.BASE, Leg.FINAL) and gate.bank_deg]
        return banks[-1] if banks else None


def course_at(track: Track, along_ft: float) -> float:
    """Return the direction of the track at a distance, radians from the landing direction to the circuit's side."""
    out, downwind, base, final = track.corners
    if along_ft <= out:
        return 0.0
    if along_ft < downwind:
        return _turned(track.shape, (along_ft - out) / track.across)
    if along_ft <= base:
        return math.pi
    if along_ft < final:
        return math.pi + _turned(track.shape, (along_ft - base) / track.across)
    return 2 * math.pi


def _turned(shape: Shape, share: float) -> float:
    return math.pi * share if shape is Shape.OVAL else math.pi / 2


def _between(rows: Sequence[tuple[float, float | None]], along_ft: float) -> float:
    """Interpolate between the rows, in the order of their distance."""
    known = [(place, value) for place, value in rows if value is not None]
    if along_ft <= known[0][0]:
        return known[0][1]
    for (before, low), (after, high) in pairwise(known):
        if along_ft <= after:
            return low + (high - low) * (along_ft - before) / (after - before)
    return known[-1][1]
