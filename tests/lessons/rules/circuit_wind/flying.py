"""Fly a turn by general integration over time, apart from the closed forms of the rules.

scipy's solve_ivp (SciPy Reference Guide, scipy.integrate) knows nothing of shares of a turn: its state is place and
nose, and its clock is time.
"""

import json
import math
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from scipy.integrate import solve_ivp

from lessons.rules.circuit_wind.targets import CircuitTargets, GateAim
from lessons.rules.pattern import Leg, Shape

FIXTURES = Path(__file__).resolve().parents[4] / "fixtures/aircraft"
# From the definitions, and not from the module under test: the international knot and standard gravity.
KT = Decimal("1852") / Decimal("0.3048") / 3600
FT_S = float(KT)
G = 9.80665 / 0.3048


def read_targets(name: str) -> CircuitTargets:
    """Return the gates of one of the invented types of the demo school, which are in feet and knots."""
    form = json.loads((FIXTURES / f"{name}.json").read_text())
    gates = []
    for gate in form["gate_set"]["gates"]:
        aims = {row["quantity"]: float(row["value"]) for row in gate["targets"]}
        gates.append(
            GateAim(
                gate["code"],
                gate["name"],
                Leg(gate["leg"]),
                gate["along_ft"],
                aims.get("height"),
                aims.get("speed"),
                aims.get("bank"),
            )
        )
    return CircuitTargets(tuple(gates), Shape(form["gate_set"]["shape"]), form["stall_landing_kt"])


def fly_in_time(
    begin: tuple[float, float],
    nose: float,
    until_course: float,
    airspeed_and_wind: Callable[[float], tuple[float, float, float]],
    bank_deg: Callable[[float], float],
    by: str,
) -> tuple[float, float, float]:
    """Return x, y (feet) and seconds where the course over the ground first is `until_course` (radians).

    by: whether speed, wind and bank are asked by the angle of the `course` or of the `nose`. Both callables take it.
    """

    def course_of(nose_now: float, angle: float) -> float:
        airspeed, wind_x, wind_y = airspeed_and_wind(angle)
        x, y = airspeed * math.cos(nose_now) + wind_x, airspeed * math.sin(nose_now) + wind_y
        # The course lies within a quarter turn of the nose while the wind is weaker than the aeroplane is fast.
        return nose_now + math.remainder(math.atan2(y, x) - nose_now, 2 * math.pi)

    def angle_of(nose_now: float) -> float:
        if by == "nose":
            return nose_now
        course = nose_now
        for _ in range(30):  # speed and wind depend on the course, and the course on them: a contraction
            course = course_of(nose_now, course)
        return course

    def slopes(_: float, state: list[float]) -> list[float]:
        angle = angle_of(state[2])
        airspeed, wind_x, wind_y = airspeed_and_wind(angle)
        return [
            (airspeed * math.cos(state[2]) + wind_x) * FT_S,
            (airspeed * math.sin(state[2]) + wind_y) * FT_S,
            G * math.tan(math.radians(bank_deg(angle))) / (airspeed * FT_S),
        ]

    def aligned(_: float, state: list[float]) -> float:
        return course_of(state[2], angle_of(state[2])) - until_course

    aligned.terminal = True  # type: ignore[attr-defined] # as solve_ivp asks for it
    flown = solve_ivp(slopes, (0, 900), [*begin, nose], events=aligned, rtol=1e-7, atol=1e-4, max_step=1.0)
    assert flown.t_events[0].size == 1, "the turn never comes round"
    x, y, _ = flown.y_events[0][0]
    return float(x), float(y), float(flown.t_events[0][0])
