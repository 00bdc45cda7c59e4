"""Say what the wind does in sentences that a student keeps. Pure."""

from lessons.rules.circuit_wind.air import GROWTH_TOP_FT
from lessons.rules.circuit_wind.circuit import CircuitInWind
from lessons.rules.circuit_wind.turn import STEEP_BANK_DEG, TurnInWind
from lessons.rules.pattern import Shape
from lessons.rules.unit_words import HUNDREDS, TENS, write_length
from lessons.rules.units import KNOTS_AND_FEET, DisplayUnits

# Below these nothing would be noticed from the seat.
SMALL_SHIFT_FT, LARGE_SHIFT_FT = 100, 500
SMALL_DELAY_S = 1.5
SMALL_MISS_FT = 50


def assumption_words(units: DisplayUnits = KNOTS_AND_FEET) -> str:
    """Return what is assumed and not measured: it is printed beside every picture."""
    return (
        f"Assumed, not measured: the wind grows by half from the ground to {write_length(GROWTH_TOP_FT, units)} and"
        " keeps its direction; the airspeeds are the targets of the gates; rolling in and out takes no time; a steeper"
        " bank costs no height."
    )


def advice_sentence(circuit: CircuitInWind, units: DisplayUnits = KNOTS_AND_FEET) -> str:
    """Return 'Begin the turn a little earlier: 26° of bank at first, 18° at the end; take the power off later.'"""
    if circuit.is_calm:
        return "Hardly any wind: fly the circuit by its usual targets."
    turn = circuit.turn
    first, last = round(turn.advised_first_deg), round(turn.advised_last_deg)
    bank = f"{first}° of bank all the way" if first == last else f"{first}° of bank at first, {last}° at the end"
    which = "turn onto final" if circuit.track.shape is Shape.SQUARE else "turn"
    sentence = f"Begin the {which} {_shift_words(turn.earlier_ft, units)}: {bank}{_power_words(circuit)}."
    if turn.is_steep:
        sentence += (
            f" That is more than {STEEP_BANK_DEG:.0f}° near the ground: fly the downwind leg wider, and go around"
            " rather than tighten the turn."
        )
    return sentence


def _shift_words(earlier_ft: float, units: DisplayUnits) -> str:
    if abs(earlier_ft) < SMALL_SHIFT_FT:
        return "at the usual place"
    side = "earlier" if earlier_ft > 0 else "later"
    if abs(earlier_ft) < LARGE_SHIFT_FT:
        return f"a little {side}"
    return f"{write_length(abs(earlier_ft), units, HUNDREDS)} {side}"


def _power_words(circuit: CircuitInWind) -> str:
    if circuit.descent is None:
        return ""
    seconds = circuit.descent.later_s
    if abs(seconds) < SMALL_DELAY_S:
        return "; take the power off as usual"
    return f"; take the power off {'later' if seconds > 0 else 'earlier'}"


def usual_turn_sentence(turn: TurnInWind, units: DisplayUnits = KNOTS_AND_FEET) -> str:
    """Return where the turn of a calm day comes out in this wind, to some tens of feet."""
    bank = f"The usual {turn.usual_bank_deg:.0f}° from the usual place"
    misses = []
    if abs(turn.past_final_ft) >= SMALL_MISS_FT:
        side = "past final" if turn.past_final_ft > 0 else "short of final"
        misses.append(f"{write_length(abs(turn.past_final_ft), units, TENS)} {side}")
    if abs(turn.farther_out_ft) >= SMALL_MISS_FT:
        side = "farther out" if turn.farther_out_ft > 0 else "closer in"
        misses.append(f"{write_length(abs(turn.farther_out_ft), units, TENS)} {side}")
    return f"{bank} would bring you out {' and '.join(misses) or 'on final'}."
