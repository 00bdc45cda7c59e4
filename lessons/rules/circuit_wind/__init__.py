"""Work out what a steady wind does to a circuit: each leg, the turn onto final, the descent. Pure.

Axes are those of the circuit (lessons/rules/pattern.py): x along the landing direction from the touchdown point, y to
the side of the circuit, so that a right-hand circuit is the mirror of a left-hand one. Angles run from x towards y, in
radians; distances in feet, speeds in knots, bank in degrees.

What is assumed, and printed beside every picture: assumption_words(). All of it advises; none of it permits a flight.
"""

from lessons.rules.circuit_wind.air import CannotFly, CircuitAir, OverGround, bank_for_round_path, hold_course
from lessons.rules.circuit_wind.circuit import CircuitInWind, LegInWind, work_out
from lessons.rules.circuit_wind.descent import DescentInWind
from lessons.rules.circuit_wind.targets import CircuitTargets, GateAim
from lessons.rules.circuit_wind.turn import STEEP_BANK_DEG, TurnInWind
from lessons.rules.circuit_wind.words import advice_sentence, assumption_words, usual_turn_sentence

__all__ = [
    "STEEP_BANK_DEG",
    "CannotFly",
    "CircuitAir",
    "CircuitInWind",
    "CircuitTargets",
    "DescentInWind",
    "GateAim",
    "LegInWind",
    "OverGround",
    "TurnInWind",
    "advice_sentence",
    "assumption_words",
    "bank_for_round_path",
    "hold_course",
    "usual_turn_sentence",
    "work_out",
]
