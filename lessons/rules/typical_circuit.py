"""Typical circuits to begin the gates of a new type from. Pure. Every number is a starting point, not advice.

The school replaces each by that of the aeroplane's flight manual and of its own aerodrome. Sources of the shape:
final at no more than 1.3 times the stall speed in landing configuration, +10/−5 kt (FAA-S-ACS-6C, PA.IV.B.S7);
circuit height 1,000 ft above the aerodrome, first turn beyond the runway's end and within 300 ft of it (AIM 4-3-3).
Everything else is common practice: speeds as shares of the stall speeds, a climb of 8 in 100, a descent from abeam.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from itertools import chain

from lessons.rules.gate_rules import GateSetSpec, GateSpec, StallSpeeds, TargetSpec
from lessons.rules.pattern import Leg, Shape

MIN_HEIGHT_FT, MAX_HEIGHT_FT = 500, 2000
MIN_WIDTH_FT, MAX_WIDTH_FT = 2000, 9000
CLIMB = 0.08  # height over distance
DESCENT = 0.078  # from abeam the point to the touchdown, about 4.5 degrees
MIN_FINAL_FT = 2000
PAST_AIMING_FT = 800  # where it lifts off, past the point where it lands
BELOW_CIRCUIT_FT = 300  # AIM 4-3-3
# Of the stall speed clean up to the circuit, in landing configuration after it.
LIFT_OFF, CLIMB_OUT, DOWNWIND, ABEAM = 1.15, 1.4, 1.7, 1.55
BASE, FINAL = 1.4, 1.3


class CircuitKind(StrEnum):
    """Name the kind of aeroplane that a typical circuit is for."""

    TRICYCLE = "tricycle"
    TAILWHEEL = "tailwheel"
    COMPLEX = "complex"

    @property
    def label(self) -> str:
        return {
            "tricycle": "High wing, tricycle gear",
            "tailwheel": "Low wing, tailwheel",
            "complex": "Complex (retractable gear)",
        }[self.value]


@dataclass(frozen=True, slots=True)
class CircuitWish:
    """Say for what a circuit is wanted: feet above the aerodrome, and from the runway to the downwind leg."""

    kind: CircuitKind
    height_ft: int
    width_ft: int


@dataclass(frozen=True, slots=True)
class _Distances:
    """The distances that lay out the circuit, so that it closes for any height and width (pattern.lay_out)."""

    out: int
    width: int
    final: int

    @property
    def downwind(self) -> int:
        return self.out + self.width

    @property
    def abeam(self) -> int:
        return self.downwind + self.out + PAST_AIMING_FT

    @property
    def touchdown(self) -> int:
        return self.abeam + 2 * self.final + self.width


def typical_gates(wish: CircuitWish, speeds: StallSpeeds, issue: int, valid_from: date) -> GateSetSpec:
    """Return gates for a type with these stall speeds: a draft to be corrected, never to be published unread."""
    first_turn = max(wish.height_ft - BELOW_CIRCUIT_FT, round(wish.height_ft * 0.7))
    way_down = round(wish.height_ft / DESCENT)
    lengths = _Distances(
        out=_round(first_turn / CLIMB, 100),
        width=wish.width_ft,
        final=max(MIN_FINAL_FT, _round((way_down - wish.width_ft) / 2, 100)),
    )
    gates = chain(
        _takeoff(wish, speeds, lengths, first_turn), _circuit(wish, speeds, lengths), _approach(wish, speeds, lengths)
    )
    return GateSetSpec(issue, valid_from, Shape.SQUARE, tuple(gates))


def _takeoff(wish: CircuitWish, speeds: StallSpeeds, lengths: _Distances, first_turn: int) -> list[GateSpec]:
    clean, wheels = speeds.stall_clean_kt, wish.kind is CircuitKind.COMPLEX
    gates = [
        GateSpec(
            "lift-off", "The lift-off", "takeoff", Leg.UPWIND, 0, "full power", "as it flies off",
            (_speed(LIFT_OFF, clean, 5, 4),),
        ),
        GateSpec(
            "climb", "The climb", "takeoff", Leg.UPWIND, _round(lengths.out * 0.45, 100),
            "climb power, wheels and flap up" if wheels else "full power, clean", "past the runway end",
            (_speed(CLIMB_OUT, clean, 10, 5),),
        ),
        GateSpec(
            "first-turn", "The first turn", "takeoff", Leg.UPWIND, lengths.out, "after-takeoff checks done",
            "beyond the runway end, within 300 ft of circuit height", (_height(first_turn, 100, 50),),
        ),
    ]  # fmt: skip
    if wheels:
        gear = _round(lengths.out * 0.2, 100)
        up = GateSpec(
            "wheels-up", "Wheels up", "takeoff", Leg.UPWIND, gear, "climbing, wheels braked",
            "positive climb, no runway left to land on", (_height(_round(gear * CLIMB, 10), 100, 50),),
        )  # fmt: skip
        gates.insert(1, up)
    return gates


def _circuit(wish: CircuitWish, speeds: StallSpeeds, lengths: _Distances) -> list[GateSpec]:
    clean = speeds.stall_clean_kt
    level, leg = _height(wish.height_ft, 100, 100), lengths.abeam - lengths.downwind
    checks = "wheels down and seen locked" if wish.kind is CircuitKind.COMPLEX else "level, checks done"
    return [
        GateSpec(
            "downwind", "Downwind", "circuit", Leg.DOWNWIND, lengths.downwind + _round(leg * 0.6, 100), checks,
            "abeam the middle of the runway", (level, _speed(DOWNWIND, clean, 10, 10)),
        ),
        GateSpec(
            "abeam", "Abeam the point", "circuit", Leg.DOWNWIND, lengths.abeam,
            "wheels locked, power back, first flap" if wish.kind is CircuitKind.COMPLEX else "power back, first flap",
            "abeam the touchdown point", (level, _speed(ABEAM, clean, 10, 10)),
        ),
    ]  # fmt: skip


def _approach(wish: CircuitWish, speeds: StallSpeeds, lengths: _Distances) -> list[GateSpec]:
    landing, way = speeds.stall_landing_kt, lengths.touchdown - lengths.abeam

    def height_at(before_touchdown: float) -> int:
        return _round(wish.height_ft * before_touchdown / way, 10)

    base, final = lengths.final + lengths.width // 2, lengths.final
    wheels = "three wheels" if wish.kind is CircuitKind.TAILWHEEL else "main wheels first"
    return [
        GateSpec(
            "base", "The base leg", "approach", Leg.BASE, lengths.touchdown - base, "second flap, some power",
            "halfway along base", (_height(height_at(base), 100, 100), _speed(BASE, landing, 10, 5, "half_gust")),
        ),
        GateSpec(
            "final", "Final", "approach", Leg.FINAL, lengths.touchdown - final, "landing flap, power for the path",
            f"{final:,} ft before the aiming point",
            (_height(height_at(final), 60, 60), _speed(FINAL, landing, 10, 5, "half_gust")),
        ),
        GateSpec(
            "round-out", "The round-out", "landing", Leg.FINAL, lengths.touchdown - 200, "throttle closing",
            "200 ft before the aiming point", (_height(15, 10, 10),),
        ),
        GateSpec(
            "touchdown", "The touchdown", "landing", Leg.FINAL, lengths.touchdown, wheels,
            "in the touchdown zone, measured from the aiming point", (_target("distance", 300, 300, 300, "ft"),),
        ),
    ]  # fmt: skip


def _speed(share: float, stall: int, over: int, under: int, wind_rule: str = "none") -> TargetSpec:
    value = round(share * stall)
    # No tolerance reaches down to the stall.
    return _target("speed", value, over, max(0, min(under, value - stall - 1)), "kt", wind_rule)


def _height(value: int, over: int, under: int) -> TargetSpec:
    return _target("height", value, over, min(under, value), "ft")


def _target(quantity: str, value: int, over: int, under: int, unit: str, wind_rule: str = "none") -> TargetSpec:
    return TargetSpec(quantity, Decimal(value), Decimal(over), Decimal(under), unit, wind_rule)


def _round(value: float, step: int) -> int:
    return round(value / step) * step
