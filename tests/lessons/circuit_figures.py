"""A circuit in a 1940s radial-engined tailwheel trainer, as numbers for tests.

Common practice: no standard prescribes these figures, and no aeroplane is to be flown by them. Heights are above
the aerodrome. The tolerances are those a school would start from, the nearest of FAA-S-ACS-6C: pattern 100 ft and
10 kt (PA.III.B.S5), climb and approach +10/-5 kt (PA.IV.A, PA.IV.B.S7), touchdown 0 to +400 ft (PA.IV.B.S10).
Heights below the pattern have none there and take the school's own.
"""

from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple


class GateFigure(NamedTuple):
    """One quantity at a gate with the tolerance above and below."""

    gate: str
    quantity: str
    value: Decimal
    over: Decimal
    under: Decimal
    unit: str


def _figure(gate: str, quantity: str, value: int, over: int, under: int, unit: str) -> GateFigure:
    return GateFigure(gate, quantity, Decimal(value), Decimal(over), Decimal(under), unit)


# In the order flown.
CLIMB = (
    _figure("in the climb", "speed", 95, 10, 5, "kt"),
    _figure("at wheels up", "height", 100, 50, 0, "ft"),  # or past the end of the runway; never earlier
    _figure("at flaps up", "height", 200, 50, 50, "ft"),
    _figure("at the first turn", "height", 250, 100, 50, "ft"),
    _figure("at the change of tank", "height", 1000, 100, 100, "ft"),
)
CIRCUIT = (
    _figure("on joining", "height", 1000, 100, 100, "ft"),
    _figure("on joining", "speed", 120, 10, 10, "kt"),
    _figure("at the first flap", "height", 800, 100, 100, "ft"),  # 20 degrees of flap
    _figure("at the first flap", "speed", 95, 10, 10, "kt"),
    _figure("abeam the upwind end", "height", 500, 100, 100, "ft"),
    _figure("abeam the upwind end", "speed", 90, 10, 5, "kt"),
)
APPROACH = (
    # Power is back just before the landing point is abeam, so the turn is a glide.
    _figure("in the gliding turn", "speed", 80, 10, 5, "kt"),
    _figure("on the landing line", "height", 150, 40, 30, "ft"),
    _figure("on the landing line", "speed", 75, 10, 5, "kt"),
    _figure("on the landing line", "distance", 800, 200, 200, "ft"),  # before the point
)
LANDING = (
    _figure("at the round-out", "height", 30, 10, 10, "ft"),
    _figure("at the touchdown", "distance", 0, 400, 0, "ft"),  # from the point
)

LARGEST_JOINING_ANGLE_DEG = 45
TOUCHDOWN_ZONE_SHARE = Fraction(1, 3)  # of the runway
