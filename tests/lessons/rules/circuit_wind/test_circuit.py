"""The circuits of both invented types in a wind: legs, descent, sentences and refusals."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from lessons.rules.circuit_wind import (
    CannotFly,
    CircuitAir,
    CircuitInWind,
    CircuitTargets,
    advice_sentence,
    usual_turn_sentence,
    work_out,
)
from lessons.rules.circuit_wind.targets import GateAim, course_at
from lessons.rules.pattern import Leg, Shape
from lessons.rules.wind import Wind
from tests.lessons.rules.circuit_wind.flying import FT_S, read_targets

OVAL, SQUARE = read_targets("tailwheel"), read_targets("nosewheel")


def circuit(targets: CircuitTargets, direction: int, speed: int, left: bool = True) -> CircuitInWind:
    air = CircuitAir.from_wind(Wind(direction, speed), 70, left=left)
    return work_out(targets, air, 70, left=left)


def test_every_leg_in_a_wind_down_the_runway() -> None:
    """By hand: at 700 ft 10 kt are 10 × (1 + 0.5 × 0.7^0.6) = 14.0 kt; abeam 88 + 14 = 102 kt, heading reversed."""
    legs = {leg.name: leg for leg in circuit(OVAL, 70, 10).legs}
    assert round(legs["downwind"].ground_kt, 1) == 102.0
    assert (legs["downwind"].heading_deg, legs["downwind"].drift_words) == (250, "no drift")
    assert (legs["upwind"].heading_deg, legs["final"].heading_deg) == (70, 70)
    # At 180 ft 10 kt are 11.8 kt: 68 kt of airspeed leave 56.2.
    assert round(legs["final"].ground_kt, 1) == 56.2
    # On base 76 kt and 12.8 kt across (380 ft): sine 0.168, 9.7° into the wind, which comes from the left there.
    assert legs["base"].drift_words == "drift 10° right"
    assert legs["base"].heading_deg == 150


def test_a_right_hand_circuit_is_the_mirror_of_a_left_hand_one() -> None:
    left, right = circuit(OVAL, 110, 12), circuit(OVAL, 30, 12, left=False)
    assert right.turn == left.turn
    assert advice_sentence(right) == advice_sentence(left)
    for one, other in zip(left.legs, right.legs, strict=True):
        assert one.drift_deg == pytest.approx(-other.drift_deg)
        # Mirrored at the runway's direction, 070: both headings lie as far from it on either side.
        assert (one.heading_deg + other.heading_deg - 2 * 70) % 360 in (0, 1, 359)


def test_calm_changes_nothing() -> None:
    for targets in (OVAL, SQUARE):
        calm = circuit(targets, 70, 0)
        assert advice_sentence(calm) == "Hardly any wind: fly the circuit by its usual targets."
        assert "on final" in usual_turn_sentence(calm.turn)
        assert calm.descent is not None
        assert calm.descent.low_ft == pytest.approx(0, abs=0.01)
        assert all(leg.drift_words == "no drift" for leg in calm.legs)


@pytest.mark.parametrize(
    ("direction", "sentence"),
    [
        (70, "Begin the turn a little earlier: 24° of bank at first, 18° at the end; take the power off later."),
        (160, "Begin the turn at the usual place: 15° of bank all the way; take the power off later."),
        (250, "Begin the turn a little later: 18° of bank at first, 25° at the end; take the power off as usual."),
    ],
)
def test_the_sentence_that_a_student_keeps(direction: int, sentence: str) -> None:
    assert advice_sentence(circuit(OVAL, direction, 12 if direction == 160 else 10)) == sentence


def test_a_turn_that_asks_for_a_steep_bank_is_cautioned() -> None:
    """A wind of 20 kt from the circuit's side: 36° even with the bank spread over the whole turn."""
    sentence = advice_sentence(circuit(OVAL, 340, 20))
    assert "more than 30° near the ground: fly the downwind leg wider, and go around" in sentence


def test_the_usual_turn_is_told_in_feet() -> None:
    assert usual_turn_sentence(circuit(OVAL, 110, 12).turn) == (
        "The usual 21° from the usual place would bring you out 510 ft short of final and 550 ft farther out."
    )


@pytest.mark.parametrize("targets", [OVAL, SQUARE])
@pytest.mark.parametrize("direction", [70, 110, 160, 250, 340])
def test_the_descent_beside_an_integral_over_the_way(targets: CircuitTargets, direction: int) -> None:
    """scipy's quad (SciPy Reference Guide, scipy.integrate) over the distance: dh/ds of the targets × V / Vg."""
    found = circuit(targets, direction, 12)
    track, air = found.track, found.air
    begin = [gate for gate in targets.gates if gate.leg is Leg.DOWNWIND and gate.height_ft][-1]
    end = [gate for gate in targets.gates if gate.leg is Leg.FINAL and gate.height_ft][-1]

    def lost(along: float) -> float:
        airspeed, course = targets.speed_at(along), course_at(track, along)
        x, y = air.at_height(targets.height_at(along))
        ahead, across = x * math.cos(course) + y * math.sin(course), y * math.cos(course) - x * math.sin(course)
        ground = math.sqrt(airspeed**2 - across**2) + ahead
        slope = (targets.height_at(along - 0.5) - targets.height_at(along + 0.5)) / 1.0
        return slope * airspeed / ground

    places = [float(gate.along_ft) for gate in targets.gates if begin.along_ft <= gate.along_ft <= end.along_ft]
    corners = [corner for corner in track.corners if begin.along_ft < corner < end.along_ft]
    total, _ = quad(lost, begin.along_ft, end.along_ft, points=sorted({*places, *corners}), limit=200)
    assert begin.height_ft is not None
    assert end.height_ft is not None
    assert found.descent is not None
    assert found.descent.low_ft == pytest.approx(total - (begin.height_ft - end.height_ft), abs=5)


def test_the_later_power_makes_the_descent_end_right() -> None:
    """By hand: 742 ft a minute are 12.4 ft a second; 42 ft too low are 3.4 s, and 3.4 s at 96 kt are 550 ft."""
    descent = circuit(OVAL, 70, 10).descent
    assert descent is not None
    assert round(descent.sink_fpm) == 742
    assert descent.later_s == pytest.approx(descent.low_ft / (742 / 60), rel=1e-3)
    assert descent.later_ft == pytest.approx(descent.later_s * 95.6 * FT_S, rel=0.01)


def test_a_wind_over_the_stalling_speed_is_refused_in_a_sentence() -> None:
    with pytest.raises(CannotFly, match=r"The wind is 51 kt at 900 ft.*stalls at 48 kt"):
        circuit(SQUARE, 110, 35)


def test_a_slow_aeroplane_in_a_strong_wind_is_refused_in_a_sentence() -> None:
    """At a third of their speeds the targets are those of a very slow aeroplane, whose stalling speed is unknown."""
    gates = tuple(
        GateAim(gate.code, gate.name, gate.leg, gate.along_ft, gate.height_ft, gate.speed_kt and gate.speed_kt / 3)
        for gate in OVAL.gates
    )
    slow = CircuitTargets(gates, Shape.OVAL, 45)
    with pytest.raises(CannotFly, match=r"[Nn]o circuit can be calculated"):
        circuit(slow, 160, 25)


@pytest.mark.parametrize("missing", ["height_ft", "speed_kt"])
def test_gates_without_heights_or_speeds_are_refused_in_a_sentence(missing: str) -> None:
    gates = tuple(
        GateAim(
            gate.code,
            gate.name,
            gate.leg,
            gate.along_ft,
            None if missing == "height_ft" else gate.height_ft,
            None if missing == "speed_kt" else gate.speed_kt,
        )
        for gate in OVAL.gates
    )
    with pytest.raises(CannotFly, match="no height or no speed"):
        circuit(CircuitTargets(gates, Shape.OVAL, 52), 70, 10)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from([OVAL, SQUARE]), st.integers(1, 360), st.integers(0, 60), st.booleans())
def test_every_wind_is_worked_out_or_refused(targets: CircuitTargets, direction: int, speed: int, left: bool) -> None:
    try:
        found = circuit(targets, direction, speed, left)
    except CannotFly:
        assert speed > 15
        return
    for place in (*found.legs, *found.places):
        assert math.isfinite(place.ground_kt)
        assert place.ground_kt > 0
        assert 1 <= place.heading_deg <= 360
    assert found.descent is not None
    assert all(map(math.isfinite, (found.descent.low_ft, found.descent.short_ft, found.descent.later_ft)))
    assert "nan" not in advice_sentence(found) + usual_turn_sentence(found.turn)
