"""Measure a flight track at the gates: circuits, how they ended, and what was flown, each number with its uncertainty.

Pure; numpy only. Inside everything is in metres, seconds and radians; feet, knots and degrees appear in readings.
A track proposes and a person decides: what it cannot tell is not said.
"""

from lessons.rules.flight_track.measure import MeasuredCircuit, MeasuredFlight, Reading, measure_flight
from lessons.rules.flight_track.place import RunwaySite
from lessons.rules.flight_track.setting import FieldWind, GateSpot, TrackSetting

__all__ = [
    "FieldWind",
    "GateSpot",
    "MeasuredCircuit",
    "MeasuredFlight",
    "Reading",
    "RunwaySite",
    "TrackSetting",
    "measure_flight",
]
