"""How far a reading may lie from the truth, 19 times of 20: by the kind of receiver, from flights whose truth is known.

The figures are those of tests/lessons/rules/flight_track/, which flies the simulator with a wander as that of a
telephone (4 m level, 8 m vertical) and of a pressure logger, in a wind known to 2 kt each way; for a real aeroplane
they hold as far as it flies like that one. The touchdown of a full stop is found some 100 ft late on the mean, which
is within.
"""

from dataclasses import dataclass

# Feet, knots, degrees.
HEIGHT = {"pressure": 20.0, "satellite": 65.0}
SPEED, SPEED_ON_FINAL = 12.0, 9.0
GROUND_SPEED = {"fine": 3.0, "coarse": 4.0}
BANK = {"fine": 4.0, "coarse": 6.0}
WINGS_LEVEL = {"fine": 160.0, "coarse": 250.0}
TOUCHDOWN = {"fine": 300.0, "coarse": 350.0}
# Seconds between fixes (the median): finer, coarser, and from where on nothing is measured.
FINE_UP_TO_S, COARSE_UP_TO_S = 2.5, 6.5
HOLE_S = 6.0


@dataclass(frozen=True)
class Receiver:
    """The kind of receiver by what it wrote: where its heights come from, and how often it noted a place."""

    by_pressure: bool
    step_s: float

    @property
    def step(self) -> str:
        return "fine" if self.step_s <= FINE_UP_TO_S else "coarse"

    @property
    def measures(self) -> bool:
        return self.step_s <= COARSE_UP_TO_S

    def error(self, quantity: str, *, on_final: bool, touchdown: bool) -> float:
        """Return the uncertainty of a reading, 19 of 20, in ft, kt or degrees. KeyError for an unknown quantity."""
        match quantity:
            case "height":
                return HEIGHT["pressure" if self.by_pressure else "satellite"]
            case "speed":
                return SPEED_ON_FINAL if on_final else SPEED
            case "ground_speed":
                return GROUND_SPEED[self.step]
            case "bank":
                return BANK[self.step]
            case "distance":
                return TOUCHDOWN[self.step] if touchdown else WINGS_LEVEL[self.step]
        raise KeyError(quantity)
