"""The turn onto final by hand, and beside an integration over time that knows nothing of it."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lessons.rules.circuit_wind import CannotFly, CircuitAir, TurnInWind, bank_for_round_path, hold_course
from lessons.rules.circuit_wind.turn import Turn, compare_turns, round_bank
from lessons.rules.wind import turn_radius_ft, turn_rate
from tests.lessons.rules.circuit_wind.flying import fly_in_time

AIRSPEED, BANK = 76.0, 21.4
RADIUS = turn_radius_ft(AIRSPEED, BANK)
CLOSE_FT = 30


def steady_turn(wind: tuple[float, float], angle: float = math.pi, airspeed: float = AIRSPEED) -> Turn:
    """Return a turn onto final at one airspeed in one wind, which ends at 0, 0."""
    begin = (0.0, 2 * RADIUS) if angle == math.pi else (-RADIUS, RADIUS)
    return Turn(begin, 2 * math.pi - angle, angle, RADIUS, lambda share: (airspeed, wind))


def slowing_turn(wind: CircuitAir) -> Turn:
    """Return a turn from 82 to 68 kt and from 570 to 180 ft, as the invented tailwheel type flies it."""

    def air(share: float) -> tuple[float, tuple[float, float]]:
        return 82 - 14 * share, wind.at_height(570 - 390 * share)

    return Turn((0.0, 2 * RADIUS), math.pi, math.pi, RADIUS, air)


def test_a_headwind_carries_the_usual_turn_out_by_its_time() -> None:
    """By hand: half a circle at 76 kt and 21.4° takes 180 / 5.626 = 32.0 s, in which 10 kt carry 540 ft away.

    Pilot's Handbook of Aeronautical Knowledge, rate of turn 1,091 tan(bank) / V (from memory).
    """
    seconds = 180 / turn_rate(AIRSPEED, BANK)
    assert seconds == pytest.approx(32.0, abs=0.05)
    turn = compare_turns(steady_turn((-10, 0)))
    assert turn.usual_bank_deg == pytest.approx(BANK, abs=0.1)  # the handbook rounds its constants
    assert turn.farther_out_ft == pytest.approx(10 * 1.68781 * seconds, abs=2)
    # Through the air it is the same half circle: it ends on the extended centreline.
    assert turn.past_final_ft == pytest.approx(0, abs=1)
    # With one bank it would begin earlier by all of it, on a round path by nothing: the right turn does some of both.
    assert 150 < turn.earlier_ft < turn.farther_out_ft - 150
    assert turn.advised_first_deg > BANK > turn.advised_last_deg


def test_calm_air_is_the_usual_turn() -> None:
    turn = compare_turns(steady_turn((0, 0)))
    assert (turn.past_final_ft, turn.farther_out_ft, turn.earlier_ft) == pytest.approx((0, 0, 0), abs=0.1)
    assert (turn.advised_first_deg, turn.advised_last_deg) == pytest.approx((BANK, BANK), abs=0.1)
    assert turn.round_banks_deg == pytest.approx((BANK, BANK, BANK), abs=0.1)


def test_a_tailwind_on_base_carries_past_final() -> None:
    """A wind from the circuit's side blows towards the runway while the turn is flown: overshoot, and more bank."""
    turn = compare_turns(steady_turn((0, -12)))
    assert turn.past_final_ft > 500
    assert turn.advised_half_deg > BANK + 3
    against = compare_turns(steady_turn((0, 12)))
    assert against.past_final_ft < -500
    assert against.advised_half_deg < BANK - 3


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("wind", [(-15.0, 0.0), (0.0, -12.0), (9.0, 7.0)])
def test_in_a_steady_wind_the_bank_is_that_of_the_closed_form(wind: tuple[float, float], share: float) -> None:
    turn = steady_turn(wind)
    over = hold_course(AIRSPEED, turn.course + turn.angle * share, wind)
    closed = bank_for_round_path(over.ground_kt, RADIUS, math.degrees(over.drift))
    assert round_bank(turn, share) == pytest.approx(closed, abs=0.15)


def follow(turn: Turn, flown: TurnInWind) -> tuple[float, float]:
    """Fly the right turn over time, its bank by the angle of the nose, and return where it comes out."""
    first = hold_course(turn.air(0)[0], turn.course, turn.air(0)[1]).heading
    last = hold_course(turn.air(1)[0], turn.course + turn.angle, turn.air(1)[1]).heading

    def share_of(nose: float) -> float:
        return min(max((nose - first) / (last - first), 0.0), 1.0)

    def air(nose: float) -> tuple[float, float, float]:
        airspeed, (wind_x, wind_y) = turn.air(share_of(nose))
        return airspeed, wind_x, wind_y

    def bank(nose: float) -> float:
        return flown.advised_first_deg + (flown.advised_last_deg - flown.advised_first_deg) * share_of(nose)

    x, y, seconds = fly_in_time(flown.advised_path[0], first, turn.course + turn.angle, air, bank, by="nose")
    assert seconds == pytest.approx(flown.seconds, abs=0.5)
    return x, y


def follow_round(turn: Turn) -> tuple[float, float]:
    """Fly with the bank that the round path asks for, by the course over the ground, and return where it comes out."""
    first = hold_course(turn.air(0)[0], turn.course, turn.air(0)[1]).heading

    def share_of(course: float) -> float:
        return min(max((course - turn.course) / turn.angle, 0.0), 1.0)

    def air(course: float) -> tuple[float, float, float]:
        airspeed, (wind_x, wind_y) = turn.air(share_of(course))
        return airspeed, wind_x, wind_y

    x, y, _ = fly_in_time(
        turn.begin, first, turn.course + turn.angle, air, lambda course: round_bank(turn, share_of(course)), by="course"
    )
    return x, y


winds = st.builds(
    lambda speed, angle: CircuitAir(speed * math.cos(angle), speed * math.sin(angle)),
    st.floats(0, 22),
    st.floats(-math.pi, math.pi),
)


@settings(max_examples=40, deadline=None)
@given(winds)
def test_the_advised_turn_comes_out_on_final_by_integration(wind: CircuitAir) -> None:
    turn = slowing_turn(wind)
    try:
        flown = compare_turns(turn)
    except CannotFly:
        # Only a strong wind towards final has no bank that is right.
        assert wind.speed_kt > 15
        return
    assert follow(turn, flown) == pytest.approx((0, 0), abs=CLOSE_FT)


@settings(max_examples=15, deadline=None)
@given(winds)
def test_the_bank_of_the_round_path_comes_out_on_final_by_integration(wind: CircuitAir) -> None:
    assert follow_round(slowing_turn(wind)) == pytest.approx((0, 0), abs=CLOSE_FT)


@pytest.mark.parametrize("wind", [(0.0, 0.0), (-12.0, 0.0), (0.0, -10.0), (6.0, 8.0)])
def test_a_corner_keeps_its_bank_and_begins_elsewhere(wind: tuple[float, float]) -> None:
    turn = steady_turn(wind, math.pi / 2)
    flown = compare_turns(turn)
    assert flown.advised_first_deg == flown.advised_last_deg == flown.usual_bank_deg
    assert flown.earlier_ft == pytest.approx(flown.past_final_ft, abs=0.01)
    _, y = follow(turn, flown)
    assert y == pytest.approx(0, abs=CLOSE_FT)


@settings(max_examples=200, deadline=None)
@given(winds, st.floats(30, 140), st.floats(10, 170))
def test_no_wind_gives_a_number_that_is_none(wind: CircuitAir, airspeed: float, weakened: float) -> None:
    turn = steady_turn(wind.at_height(weakened * 6), airspeed=airspeed)
    try:
        flown = compare_turns(turn)
    except CannotFly:
        return
    numbers = [flown.past_final_ft, flown.farther_out_ft, flown.earlier_ft, flown.seconds, flown.usual_bank_deg]
    numbers += [*flown.round_banks_deg, flown.advised_first_deg, flown.advised_last_deg]
    numbers += [value for path in (flown.usual_path, flown.advised_path) for point in path for value in point]
    assert all(map(math.isfinite, numbers))
    assert 0 < flown.advised_last_deg < 90
