"""Find where the descent of a calm day ends in a wind. Pure.

The gates say how high and how fast, and not how much power. So one thing can be said: with the sink of a calm day, the
same seconds lose the same height, and in the wind the same way takes other seconds.
"""

from dataclasses import dataclass

from lessons.rules.circuit_wind.air import KNOT_FT_S, CircuitAir, hold_course
from lessons.rules.circuit_wind.targets import CircuitTargets, GateAim, course_at
from lessons.rules.pattern import Leg, Track

SLICES = 60


@dataclass(frozen=True)
class DescentInWind:
    """Compare the descent from one gate to the last height on final with that of a calm day.

    low_ft: how much lower it arrives (negative: higher); short_ft: how far before the usual place it is as low as it
    should be there. later_s, later_ft: how much later the descent begins to end right, by time and over the ground,
    negative for earlier; the height of the gate is held until then. sink_fpm: the mean sink of a calm day.
    """

    gate: str
    height_ft: float
    end: str
    sink_fpm: float
    low_ft: float
    short_ft: float
    later_s: float
    later_ft: float


def descend(targets: CircuitTargets, track: Track, air: CircuitAir) -> DescentInWind | None:
    """Follow the track from the last height of the downwind leg to the last of final; None without both."""
    begin, end = _last_height(targets, Leg.DOWNWIND), _last_height(targets, Leg.FINAL)
    if begin is None or end is None:
        return None
    assert begin.height_ft is not None
    length = float(end.along_ft - begin.along_ft)
    calm_s = wind_s = lost = 0.0
    step = length / SLICES
    for place in range(SLICES):
        along = begin.along_ft + step * (place + 0.5)
        airspeed, height = targets.speed_at(along), targets.height_at(along)
        ground = hold_course(airspeed, course_at(track, along), air.at_height(height)).ground_kt
        sinks = targets.height_at(along - step / 2) - targets.height_at(along + step / 2)
        calm_s += step / (airspeed * KNOT_FT_S)
        wind_s += step / (ground * KNOT_FT_S)
        # Height goes with time: where the ground goes by more slowly, more of it is lost on the same way.
        lost += sinks * airspeed / ground
    fallen = targets.height_at(begin.along_ft) - targets.height_at(end.along_ft)
    if fallen <= 0:
        return None
    low, sink_ft_s = lost - fallen, fallen / calm_s
    # Of the last slice, which is on final; of the first, which is downwind.
    downwind = hold_course(
        targets.speed_at(begin.along_ft), course_at(track, begin.along_ft), air.at_height(begin.height_ft)
    )
    later = low / sink_ft_s
    return DescentInWind(
        gate=begin.name,
        height_ft=begin.height_ft,
        end=end.name,
        sink_fpm=sink_ft_s * 60,
        low_ft=low,
        short_ft=low * ground * KNOT_FT_S / sink_ft_s,
        later_s=later,
        later_ft=later * downwind.ground_kt * KNOT_FT_S,
    )


def _last_height(targets: CircuitTargets, leg: Leg) -> GateAim | None:
    return next((gate for gate in reversed(targets.gates) if gate.leg is leg and gate.height_ft), None)
