"""Work out one circuit in one wind: every leg, the turn onto final, the descent. Pure."""

import math
from dataclasses import dataclass

from lessons.rules.circuit_wind.air import CannotFly, CircuitAir, OverGround, growth_factor, hold_course
from lessons.rules.circuit_wind.descent import DescentInWind, descend
from lessons.rules.circuit_wind.targets import CircuitTargets, course_at
from lessons.rules.circuit_wind.turn import Turn, TurnInWind, compare_turns
from lessons.rules.pattern import ABEAM, Shape, Track
from lessons.rules.wind import turn_radius_ft

# Common practice: a medium bank of the turns of a circuit, where no gate asks for another.
USUAL_BANK_DEG = 20.0


@dataclass(frozen=True)
class LegInWind:
    """Describe one place of the circuit. drift_deg: positive to the right. heading_deg: magnetic, 1 to 360.

    `over_ground` in the axes of the circuit, for drawing. bank_deg: of the advised turn, None with wings level.
    """

    name: str
    along_ft: float
    height_ft: float
    wind_kt: float
    drift_deg: float
    heading_deg: int
    over_ground: OverGround
    bank_deg: float | None = None

    @property
    def airspeed_kt(self) -> float:
        return self.over_ground.airspeed_kt

    @property
    def ground_kt(self) -> float:
        return self.over_ground.ground_kt

    @property
    def drift_words(self) -> str:
        whole = round(abs(self.drift_deg))
        return f"drift {whole}° {'right' if self.drift_deg > 0 else 'left'}" if whole else "no drift"


@dataclass(frozen=True)
class CircuitInWind:
    """Hold what the wind does to a circuit. `places`: four for the wind triangles, in the order flown."""

    track: Track
    air: CircuitAir
    legs: tuple[LegInWind, ...]
    places: tuple[LegInWind, ...]
    turn: TurnInWind
    descent: DescentInWind | None

    @property
    def is_calm(self) -> bool:
        """Return whether the wind is below half a knot: nothing of it would show."""
        return self.air.speed_kt < 0.5


def work_out(targets: CircuitTargets, air: CircuitAir, runway_heading: int, *, left: bool) -> CircuitInWind:
    """Return the circuit in this wind. CannotFly with a sentence where it cannot be flown or worked out.

    `runway_heading`: degrees magnetic, for the headings alone; `left`: a left-hand circuit.
    """
    track = targets.lay_out()
    _refuse_storm(targets, air)
    turn = compare_turns(_turn_onto_final(targets, track, air))

    def place(name: str, along: float, course: float | None = None, bank: float | None = None) -> LegInWind:
        height = targets.height_at(along)
        over = hold_course(
            targets.speed_at(along), course_at(track, along) if course is None else course, air.at_height(height)
        )
        drift = math.degrees(over.drift)
        # Angles of the circuit run to its side: to the left, against the compass, in a left-hand one.
        heading = runway_heading + math.degrees(over.heading) * (-1 if left else 1)
        return LegInWind(
            name=name,
            along_ft=along,
            height_ft=height,
            wind_kt=air.speed_kt * growth_factor(height),
            drift_deg=-drift if left else drift,
            heading_deg=round(heading - 1) % 360 + 1,
            over_ground=over,
            bank_deg=bank,
        )

    out, downwind, base, final = track.corners
    abeam = next(float(gate.along_ft) for gate in targets.gates if gate.code == ABEAM)
    legs = (
        place("upwind", out / 2),
        place("crosswind", (out + downwind) / 2, math.pi / 2),
        place("downwind", abeam, math.pi),
        place("base", (base + final) / 2, math.pi * 3 / 2),
        place("final", final, 2 * math.pi),
    )
    half = place("turn, half way", (base + final) / 2, math.pi * 3 / 2, turn.advised_half_deg)
    begun = place("turn, beginning", base, math.pi, turn.advised_first_deg)
    if track.shape is Shape.SQUARE:
        begun, half = legs[3], place("turn onto final", final, math.pi * 7 / 4, turn.advised_half_deg)
    return CircuitInWind(track, air, legs, (legs[2], begun, half, legs[4]), turn, descend(targets, track, air))


def _refuse_storm(targets: CircuitTargets, air: CircuitAir) -> None:
    top = max(gate.height_ft or 0.0 for gate in targets.gates)
    strongest = air.speed_kt * growth_factor(top)
    if strongest >= targets.stall_landing_kt:
        raise CannotFly(
            "The wind is {wind} at {top_ft}, as is assumed here, and the type stalls at {stall}. No circuit can"
            " be calculated in this wind.",
            wind=strongest,
            top_ft=top,
            stall=targets.stall_landing_kt,
        )


def _turn_onto_final(targets: CircuitTargets, track: Track, air: CircuitAir) -> Turn:
    """Return the half circle of an oval, or the last corner of a square, rounded by the bank of a calm day."""
    _, _, base, final = track.corners
    if track.shape is Shape.OVAL:
        begin, length, radius, angle = base, track.across, track.width / 2, math.pi
    else:
        bank = targets.target_bank or USUAL_BANK_DEG
        # It cannot take more than half of the base leg, or all of final.
        radius = min(turn_radius_ft(targets.speed_at(final), bank), track.across / 2, track.inbound)
        begin, length, angle = final - radius, 2 * radius, math.pi / 2

    def air_at(share: float) -> tuple[float, tuple[float, float]]:
        along = begin + length * share
        return targets.speed_at(along), air.at_height(targets.height_at(along))

    return Turn(track.position_at(begin), 2 * math.pi - angle, angle, radius, air_at)
