"""A typical circuit has nothing wrong with it, whatever stall speeds, height and width it is asked for.

Final: no more than 1.3 times the stall speed in landing configuration, +10/−5 kt (FAA-S-ACS-6C, PA.IV.B.S7). First
turn within 300 ft of the circuit height (AIM 4-3-3, key 5). Both as recorded there; the rest is common practice.
"""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lessons.gate_draft import parse_raw, raw_from_spec
from lessons.rules.gate_rules import GateSpec, RunwayLength, StallSpeeds, TargetSpec, find_problems
from lessons.rules.pattern import lay_out
from lessons.rules.typical_circuit import (
    MAX_HEIGHT_FT,
    MAX_WIDTH_FT,
    MIN_HEIGHT_FT,
    MIN_WIDTH_FT,
    CircuitKind,
    CircuitWish,
    typical_gates,
)

DAY = date(2026, 6, 11)
RUNWAY = RunwayLength(2400, 400)


def target(gates: tuple[GateSpec, ...], code: str, quantity: str) -> TargetSpec:
    gate = next(row for row in gates if row.code == code)
    return next(row for row in gate.targets if row.quantity == quantity)


@given(
    kind=st.sampled_from(CircuitKind),
    height=st.integers(MIN_HEIGHT_FT, MAX_HEIGHT_FT),
    width=st.integers(MIN_WIDTH_FT, MAX_WIDTH_FT),
    landing=st.integers(15, 150),
    flap=st.integers(0, 15),
)
def test_nothing_is_wrong_with_it(kind: CircuitKind, height: int, width: int, landing: int, flap: int) -> None:
    speeds = StallSpeeds(landing, landing + flap)
    found = typical_gates(CircuitWish(kind, height, width), speeds, 1, DAY)
    assert find_problems(found, speeds, [RUNWAY]) == []
    track = lay_out(found.stations, found.shape)
    assert (round(track.width), round(track.lift_off_x)) == (width, 800)
    # The draft that it becomes reads back as the same.
    assert parse_raw(raw_from_spec(found), 1, speeds, [RUNWAY]) == (found, [])
    final, first_turn = target(found.gates, "final", "speed"), target(found.gates, "first-turn", "height")
    assert final.value <= round(Decimal("1.3") * landing)
    assert (final.over, final.under <= 5) == (10, True)
    assert height - 300 <= first_turn.value <= height


@pytest.mark.parametrize("kind", CircuitKind)
def test_the_figures_of_a_trainer(kind: CircuitKind) -> None:
    """By hand: 1.3 × 48 = 62.4; (1,000 − 300) / 0.08 = 8,750 ft; (1,000 / 0.078 − 4,500) / 2 = 4,160 ft."""
    gates = typical_gates(CircuitWish(kind, 1000, 4500), StallSpeeds(48, 52), 1, DAY).gates
    assert target(gates, "final", "speed").value == 62
    along = {row.code: row.along_ft for row in gates}
    assert along["first-turn"] == 8800
    assert along["touchdown"] - along["final"] == 4200
    assert ("wheels-up" in along) is (kind is CircuitKind.COMPLEX)
    assert [target(gates, code, "height").value for code in ("downwind", "abeam", "base", "final")] == [
        1000, 1000, 500, 330,
    ]  # fmt: skip
