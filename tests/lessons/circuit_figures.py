"""The circuit of the invented tailwheel type of fixtures/, as numbers for tests.

No aeroplane is to be flown by these figures: the type is the demo school's own invention.
"""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from grading.rules.gate_words import gate_phrase

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures/aircraft/tailwheel.json"
GATES: list[dict[str, Any]] = json.loads(FIXTURE.read_text())["gate_set"]["gates"]


class GateFigure(NamedTuple):
    """One quantity at a gate with the tolerance above and below."""

    gate: str
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str


def figures_of_phase(phase: str) -> tuple[GateFigure, ...]:
    """Return the targets of one phase, in the order flown."""
    return tuple(
        GateFigure(
            gate_phrase(gate["name"], gate["leg"]),
            target["quantity"],
            Decimal(target["value"]),
            Decimal(target["over"]),
            Decimal(target["under"]),
            target["unit"],
        )
        for gate in GATES
        if gate["phase"] == phase
        for target in gate["targets"]
    )


TAKEOFF = figures_of_phase("takeoff")
CIRCUIT = figures_of_phase("circuit")
APPROACH = figures_of_phase("approach")
LANDING = figures_of_phase("landing")
