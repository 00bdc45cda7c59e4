"""The gates near the ground against a simple model of the flare: a normal one lies inside, a long float outside.

The model, in calm air: the straight path to the aiming point goes over into level flight along an arc of constant load
factor n, of radius V^2 / (g (n - 1)) (physics of a pull-up; textbook formula, from memory). Along the arc and in the
hold-off, the drag of a constant lift/drag ratio takes the energy: d(V^2)/ds = -2 g / (L/D), and what the arc loses in
height comes back as speed. Just above the ground, it touches at its touchdown speed.
Assumed (common practice): n 1.1 to 1.2; hold-off with the wheels 2 to 4 ft up; L/D 7 to 9, throttle shut and flap
down; three wheels at 1.0 to 1.1 of the landing stall, main wheels first at 1.05 to 1.15; speed within 3 kt of the
target, path within a tenth of its slope, aim within 50 ft.
"""

import json
import math
import random
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

AIRCRAFT = Path(__file__).resolve().parents[2] / "fixtures/aircraft"
TYPES: dict[str, dict[str, Any]] = {
    name: json.loads((AIRCRAFT / f"{name}.json").read_text()) for name in ("tailwheel", "nosewheel")
}
GRAVITY = 32.174  # ft/s^2
FT_PER_S_OF_A_KNOT = 1852 / 0.3048 / 3600
TOUCHDOWN_FACTORS = {True: (1.0, 1.1), False: (1.05, 1.15)}
FLARES = 2000

each_type = pytest.mark.parametrize("kind", TYPES.values(), ids=TYPES)


@dataclass(frozen=True)
class Flare:
    """Describe one flare: speeds in knots, slope in radians, feet; `aim_ft` beyond the aiming point."""

    speed_kt: float
    slope: float
    touchdown_kt: float
    load_factor: float = 1.15
    lift_drag: float = 8.0
    hold_off_ft: float = 3.0
    aim_ft: float = 0.0

    @property
    def speed(self) -> float:
        return self.speed_kt * FT_PER_S_OF_A_KNOT

    @property
    def radius(self) -> float:
        return self.speed**2 / (GRAVITY * (self.load_factor - 1))

    @property
    def round_out_ft(self) -> float:
        """Return the height of the wheels at which the arc begins."""
        return self.radius * (1 - math.cos(self.slope)) + self.hold_off_ft

    @property
    def touchdown_ft(self) -> float:
        """Return the distance of the touchdown beyond the aiming point."""
        level = self.aim_ft - self.round_out_ft / math.tan(self.slope) + self.radius * math.sin(self.slope)
        drop = self.round_out_ft - self.hold_off_ft
        square = self.speed**2 + 2 * GRAVITY * (drop - self.radius * self.slope / self.lift_drag)
        touching = (self.touchdown_kt * FT_PER_S_OF_A_KNOT) ** 2
        return level + max(0.0, square - touching) * self.lift_drag / (2 * GRAVITY)


def target_of(kind: dict[str, Any], gate: str, quantity: str) -> dict[str, float]:
    row = next(row for row in kind["gate_set"]["gates"] if row["code"] == gate)
    target = next(target for target in row["targets"] if target["quantity"] == quantity)
    return {key: float(target[key]) for key in ("value", "over", "under")}


def is_inside(target: dict[str, float], number: float) -> bool:
    return -target["under"] <= number - target["value"] <= target["over"]


def path_slope(kind: dict[str, Any]) -> float:
    """Return the slope from the final gate to the aiming point, at which the touchdown gate lies in the track."""
    along = {row["code"]: row["along_ft"] for row in kind["gate_set"]["gates"]}
    return math.atan(target_of(kind, "final", "height")["value"] / (along["touchdown"] - along["final"]))


def typical_flare(kind: dict[str, Any]) -> Flare:
    factor = sum(TOUCHDOWN_FACTORS[kind["tailwheel"]]) / 2
    speed = target_of(kind, "final", "speed")["value"]
    return Flare(speed, path_slope(kind), factor * kind["stall_landing_kt"])


def normal_flares(kind: dict[str, Any]) -> list[Flare]:
    draw, typical = random.Random(7), typical_flare(kind)
    return [
        Flare(
            speed_kt=typical.speed_kt + draw.uniform(-3, 3),
            slope=typical.slope * draw.uniform(0.9, 1.1),
            touchdown_kt=kind["stall_landing_kt"] * draw.uniform(*TOUCHDOWN_FACTORS[kind["tailwheel"]]),
            load_factor=draw.uniform(1.1, 1.2),
            lift_drag=draw.uniform(7, 9),
            hold_off_ft=draw.uniform(2, 4),
            aim_ft=draw.uniform(-50, 50),
        )
        for _ in range(FLARES)
    ]


def share_inside(kind: dict[str, Any], flares: list[Flare]) -> float:
    """Return the share of flares with both the round-out and the touchdown inside."""
    height, distance = target_of(kind, "round-out", "height"), target_of(kind, "touchdown", "distance")
    inside = [is_inside(height, row.round_out_ft) and is_inside(distance, row.touchdown_ft) for row in flares]
    return sum(inside) / len(inside)


def test_the_model_gives_what_can_be_worked_out_by_hand() -> None:
    """60 kt, 3 degrees, n 1.2: r = 101.27^2 / 6.435 = 1,594 ft, and r (1 - cos 3) = 2.18 ft of height."""
    flare = Flare(60, math.radians(3), 50, load_factor=1.2, lift_drag=10, hold_off_ft=0)
    assert flare.radius == pytest.approx(1594, abs=1)
    assert flare.round_out_ft == pytest.approx(2.18, abs=0.01)
    # The arc ends r tan(1.5) = 41.7 ft past the aiming point. With v^2 = 10,255 + 140 - 537 at its end,
    # (9,858 - 7,122) 10 / 64.35 = 425 ft of hold-off follow.
    assert flare.touchdown_ft == pytest.approx(467, abs=2)


@each_type
def test_nine_of_ten_normal_flares_are_inside(kind: dict[str, Any]) -> None:
    assert share_inside(kind, normal_flares(kind)) >= 0.9


@each_type
def test_the_typical_flare_lies_near_the_targets(kind: dict[str, Any]) -> None:
    flare = typical_flare(kind)
    assert flare.round_out_ft == pytest.approx(target_of(kind, "round-out", "height")["value"], abs=5)
    assert flare.touchdown_ft == pytest.approx(target_of(kind, "touchdown", "distance")["value"], abs=50)


@each_type
def test_a_float_of_15_kt_too_fast_is_outside(kind: dict[str, Any]) -> None:
    distance, typical = target_of(kind, "touchdown", "distance"), typical_flare(kind)
    fast = [replace(row, speed_kt=row.speed_kt + 15) for row in normal_flares(kind)]
    assert not is_inside(distance, replace(typical, speed_kt=typical.speed_kt + 15).touchdown_ft)
    assert sum(is_inside(distance, row.touchdown_ft) for row in fast) / len(fast) <= 0.01


@each_type
def test_a_snatch_just_above_the_ground_is_outside(kind: dict[str, Any]) -> None:
    """Twice what a normal flare pulls: the round-out begins too low."""
    late = replace(typical_flare(kind), load_factor=1.6, hold_off_ft=1)
    assert not is_inside(target_of(kind, "round-out", "height"), late.round_out_ft)


@each_type
def test_the_round_out_lies_on_the_straight_path_at_its_place(kind: dict[str, Any]) -> None:
    along = {row["code"]: row["along_ft"] for row in kind["gate_set"]["gates"]}
    before = along["touchdown"] - along["round-out"]
    assert before * math.tan(path_slope(kind)) == pytest.approx(target_of(kind, "round-out", "height")["value"], abs=5)
    gate = next(row for row in kind["gate_set"]["gates"] if row["code"] == "round-out")
    assert gate["where"] == f"{before:,} ft before the aiming point"
