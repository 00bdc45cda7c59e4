"""The gate sets of the invented types in fixtures/, as the simulator flies them and as the measuring asks for them."""

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from lessons.rules.flight_track import GateSpot
from lessons.rules.pattern import Leg, Shape, Station, lay_out

AIRCRAFT = Path(__file__).resolve().parents[3] / "fixtures/aircraft"


class GateSetFile:
    """One type with its gates."""

    def __init__(self, name: str) -> None:
        read = json.loads((AIRCRAFT / f"{name}.json").read_text())
        self.stall_kt = float(read["stall_landing_kt"])
        self.rows: list[dict[str, Any]] = read["gate_set"]["gates"]
        self.shape = Shape(read["gate_set"]["shape"])
        self.stations = [Station(row["code"], Leg(row["leg"]), row["along_ft"]) for row in self.rows]
        self.track = lay_out(self.stations, self.shape)

    @property
    def spots(self) -> list[GateSpot]:
        return [
            GateSpot(station, frozenset(target["quantity"] for target in row["targets"]))
            for station, row in zip(self.stations, self.rows, strict=True)
        ]

    def targets(self, quantity: str, factor: float) -> list[tuple[float, float]]:
        """Return metres along the way and the target, multiplied by the factor."""
        return [
            (row["along_ft"] * 0.3048, float(target["value"]) * factor)
            for row in self.rows
            for target in row["targets"]
            if target["quantity"] == quantity
        ]


@lru_cache
def gate_set(name: str) -> GateSetFile:
    return GateSetFile(name)
