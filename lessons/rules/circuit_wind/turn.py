"""Fly the turn onto final in a wind: as on a calm day, round over the ground, and as it comes out right. Pure.

A turn is to the left in the axes of the circuit. Rolling in and out takes no time here, and the airspeed and height
change evenly with the angle turned: between the gates nobody measures.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lessons.rules.circuit_wind.air import GRAVITY_FT_S2, KNOT_FT_S, CannotFly, OverGround, hold_course

STEPS = 96  # even, for Simpson's rule
# Medium bank is up to 30° in a turn of the circuit: common practice. A steeper one near the ground is cautioned.
STEEP_BANK_DEG = 30.0
LEAST_BANK_DEG, MOST_BANK_DEG = 3.0, 60.0
# The advised turn changes its bank by half of what the wind adds to the change on a round path over the ground; the
# other half comes from where it begins. It takes less of it where the first bank would be steep.
BANK_SHARES = (0.5, 0.25, 0.0)
CLOSE_FT = 0.01
MAX_TRIES = 60

# Airspeed (kt) and how the air moves (kt) at a share of the turn, 0 to 1.
AirAt = Callable[[float], tuple[float, tuple[float, float]]]


@dataclass(frozen=True)
class Turn:
    """Describe the turn that the circuit asks for: from a course, by an angle (radians), on a radius over the ground.

    `begin`: where it begins in the axes of the circuit, feet.
    """

    begin: tuple[float, float]
    course: float
    angle: float
    radius_ft: float
    air: AirAt

    @property
    def reach(self) -> tuple[float, float]:
        """Return how far it leads along the first course and to the left of it, feet."""
        return self.radius_ft * math.sin(self.angle), self.radius_ft * (1 - math.cos(self.angle))

    @property
    def is_corner(self) -> bool:
        """Return whether it is less than the half circle that leads from the downwind leg straight onto final."""
        return self.angle < math.pi

    def place(self, along: float, left: float) -> tuple[float, float]:
        """Return the point that lies so far along the first course, and to the left of it, from the beginning."""
        x, y = self.begin
        cos, sin = math.cos(self.course), math.sin(self.course)
        return x + along * cos - left * sin, y + along * sin + left * cos


@dataclass(frozen=True)
class FlownTurn:
    """Give the points of a flown turn along the first course and to the left of it, feet, and how long it took."""

    points: tuple[tuple[float, float], ...]
    seconds: float

    @property
    def reach(self) -> tuple[float, float]:
        return self.points[-1]


@dataclass(frozen=True)
class TurnInWind:
    """Compare three ways to fly one turn. Paths are in the axes of the circuit.

    usual: with the bank and from the place of a calm day. round: what a round path over the ground asks for, at the
    beginning, half way and at the end. advised: the one that comes out on final, its bank changing evenly from the
    first to the last, and `earlier_ft` how far before the usual place it begins (negative: after it); a corner keeps
    the usual bank.

    past_final_ft: where the usual turn comes out, positive beyond the extended centreline (overshoot), negative short
    of it; farther_out_ft: how much farther from the runway.
    """

    usual_bank_deg: float
    past_final_ft: float
    farther_out_ft: float
    round_banks_deg: tuple[float, float, float]
    advised_first_deg: float
    advised_last_deg: float
    earlier_ft: float
    seconds: float
    usual_path: tuple[tuple[float, float], ...]
    advised_path: tuple[tuple[float, float], ...]

    @property
    def advised_half_deg(self) -> float:
        return (self.advised_first_deg + self.advised_last_deg) / 2

    @property
    def is_steep(self) -> bool:
        """Return whether even the advised turn asks for more than a medium bank."""
        return round(max(self.advised_first_deg, self.advised_last_deg)) > STEEP_BANK_DEG


def compare_turns(turn: Turn) -> TurnInWind:
    """Return the turn of a calm day flown in the wind, and how it comes out on final. CannotFly where none does."""
    calm = Turn(turn.begin, turn.course, turn.angle, turn.radius_ft, lambda share: (turn.air(share)[0], (0.0, 0.0)))
    usual_bank, still = _fit_bank(calm, 0.0)
    # The airspeed falls in the turn, so that even on a calm day it begins a little off the end of the leg.
    usual_begin = calm.reach[0] - still.reach[0]
    usual = _fly_even(turn, usual_bank, 0.0)
    off_along, off_left = usual_begin + usual.reach[0] - turn.reach[0], usual.reach[1] - turn.reach[1]
    sin, cos = math.sin(turn.angle), math.cos(turn.angle)
    past_final = off_along * sin - off_left * cos
    banks = (round_bank(turn, 0.0), round_bank(turn, 0.5), round_bank(turn, 1.0))
    if turn.is_corner:
        # Where it begins is enough to come out on final; where on final is settled by the leg before.
        mean, change, advised, advised_begin = usual_bank, 0.0, usual, usual_begin - past_final / sin
    else:
        # Slowing down changes the bank on a calm day too: that is no matter of the wind.
        wind_change = banks[0] - banks[-1] - round_bank(calm, 0.0) + round_bank(calm, 1.0)
        mean, change, advised = _advised_turn(turn, wind_change)
        advised_begin = turn.reach[0] - advised.reach[0]
    return TurnInWind(
        usual_bank_deg=usual_bank,
        past_final_ft=past_final,
        # Flown on, final leads to the runway: what is behind the right place lies farther out.
        farther_out_ft=-(off_along * cos + off_left * sin),
        round_banks_deg=banks,
        advised_first_deg=mean + change / 2,
        advised_last_deg=mean - change / 2,
        earlier_ft=usual_begin - advised_begin,
        seconds=advised.seconds,
        usual_path=_placed(turn, usual, usual_begin),
        advised_path=_placed(turn, advised, advised_begin),
    )


def round_bank(turn: Turn, share: float) -> float:
    """Return the bank at a share of a round path over the ground, degrees: tan(bank) = V · rate of turn / g.

    The rate is that of the nose, so that slowing down and a wind that weakens on the way down are counted; without
    both it is bank_for_round_path().
    """
    step = 1e-4
    before, after = max(share - step, 0.0), min(share + step, 1.0)
    here = _over_ground(turn, share)
    nose = _over_ground(turn, after).heading - _over_ground(turn, before).heading
    # The nose turns by `nose` while the path goes on by this much of its arc.
    arc_ft = turn.radius_ft * turn.angle * (after - before)
    rate = nose * here.ground_kt * KNOT_FT_S / arc_ft
    return math.degrees(math.atan(here.airspeed_kt * KNOT_FT_S * rate / GRAVITY_FT_S2))


def _over_ground(turn: Turn, share: float) -> OverGround:
    airspeed, wind = turn.air(share)
    return hold_course(airspeed, turn.course + turn.angle * share, wind)


def _advised_turn(turn: Turn, wind_change: float) -> tuple[float, float, FlownTurn]:
    """Return mean bank, its change from first to last, and the turn: the first of BANK_SHARES that is not steep."""
    for share in BANK_SHARES:
        change = wind_change * share
        try:
            mean, flown = _fit_bank(turn, change)
        except CannotFly:
            if share == BANK_SHARES[-1]:
                raise
            continue
        if mean + abs(change) / 2 <= STEEP_BANK_DEG:
            break
    return mean, change, flown


def _fit_bank(turn: Turn, change: float) -> tuple[float, FlownTurn]:
    """Return the mean bank that leads exactly as far to the left as the turn asks for, and the turn flown with it."""
    wanted = turn.reach[1]
    least = LEAST_BANK_DEG + abs(change) / 2
    mean = max(math.degrees(math.atan((turn.air(0.5)[0] * KNOT_FT_S) ** 2 / (GRAVITY_FT_S2 * turn.radius_ft))), least)
    for _ in range(MAX_TRIES):
        flown = _fly_even(turn, mean, change)
        reach = flown.reach[1]
        if abs(reach - wanted) < CLOSE_FT:
            return mean, flown
        # With one bank the distance goes with 1 / tan(bank): the next guess is exact, with a changing one nearly so.
        mean = math.degrees(math.atan(math.tan(math.radians(mean)) * reach / wanted))
        if not least <= mean <= MOST_BANK_DEG - abs(change) / 2:
            break
    raise CannotFly("No reasonable bank brings this turn onto final in this wind, so no circuit can be calculated.")


def _fly_even(turn: Turn, mean: float, change: float) -> FlownTurn:
    """Fly with a bank that changes evenly with the angle turned, until the course is that of the end. Simpson's rule.

    Over the angle of the nose and not over time: its end is known beforehand.
    """
    first, last = _over_ground(turn, 0.0).heading, _over_ground(turn, 1.0).heading
    turned = last - first
    if turned <= 0:
        raise CannotFly(
            "The wind turns the nose farther than this turn does. No circuit can be calculated in this wind."
        )
    rows = [
        _slopes(turn, mean + change * (0.5 - step / STEPS), step / STEPS, first, turned) for step in range(STEPS + 1)
    ]
    points = [(0.0, 0.0)]
    seconds = 0.0
    for step in range(2, STEPS + 1, 2):
        parts = [
            (one + 4 * two + three) * turned / STEPS / 3
            for one, two, three in zip(*rows[step - 2 : step + 1], strict=True)
        ]
        along, left = points[-1]
        points.append((along + parts[0], left + parts[1]))
        seconds += parts[2]
    return FlownTurn(tuple(points), seconds)


def _slopes(turn: Turn, bank: float, share: float, first: float, turned: float) -> tuple[float, float, float]:
    """Return feet along and left of the first course, and seconds, for each radian that the nose turns."""
    airspeed, (wind_x, wind_y) = turn.air(share)
    seconds = airspeed * KNOT_FT_S / (GRAVITY_FT_S2 * math.tan(math.radians(bank)))
    heading = first + turned * share
    x, y = airspeed * math.cos(heading) + wind_x, airspeed * math.sin(heading) + wind_y
    cos, sin = math.cos(turn.course), math.sin(turn.course)
    feet = KNOT_FT_S * seconds
    return (x * cos + y * sin) * feet, (y * cos - x * sin) * feet, seconds


def _placed(turn: Turn, flown: FlownTurn, begin: float) -> tuple[tuple[float, float], ...]:
    points: Sequence[tuple[float, float]] = flown.points
    return tuple(turn.place(begin + along, left) for along, left in points)
