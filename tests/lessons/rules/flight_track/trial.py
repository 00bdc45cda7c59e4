"""Lessons flown by the simulator, measured as a file is, and held against the truth. Nothing here measures by itself.

The truth at a gate is read from the ten rows a second that the simulator wrote, by the definition of the gate: where
the plane of a gate was crossed, where so much of a turn was turned, where the wings were level along the runway.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from geographiclib.geodesic import Geodesic

from grading.simulation.flight.flying import FOOT, KNOT, Aeroplane, Air, NoisyReceiver, Truth, some_plans
from grading.simulation.flight.gate_sets import GateSetFile, gate_set
from lessons.rules.flight_track import FieldWind, MeasuredFlight, RunwaySite, TrackSetting, measure_flight
from lessons.rules.flight_track.flight import Fixes
from lessons.rules.pattern import Leg, Shape

EPOCH = 1_781_254_920.0  # a morning in June 2026
LATITUDE, LONGITUDE = 52.0, -1.5
TOUCHDOWN_FT, LENGTH_FT = 150.0 / FOOT, 900.0 / FOOT
MATCHED_WITHIN_S = 60


@dataclass(frozen=True)
class Lesson:
    """What was flown, in which air; the wind is what the simulator flew in at the field."""

    gates: GateSetFile
    air: Air
    truth: Truth


@lru_cache(maxsize=64)
def flown_lesson(name: str, seed: int, circuits: int = 8) -> Lesson:
    rng = np.random.default_rng(seed)
    air = Air(-rng.uniform(0, 9), rng.uniform(-5, 5), rng.uniform(0.1, 1.0), rng.uniform(0, 25))
    plans = some_plans(circuits, rng)
    return Lesson(gate_set(name), air, Aeroplane(gate_set(name), air, seed).fly(plans))


def runway_at(
    latitude: float = LATITUDE, longitude: float = LONGITUDE, heading: float = 77.0, **more: Any
) -> RunwaySite:
    """A runway whose touchdown point lies at a place."""
    back = Geodesic.WGS84.Direct(latitude, longitude, heading + 180, TOUCHDOWN_FT * FOOT)
    given = {"key": 1, "designator": "07", "left": True} | more
    return RunwaySite(
        latitude=back["lat2"], longitude=back["lon2"], heading_true=heading, length_ft=LENGTH_FT,
        touchdown_ft=TOUCHDOWN_FT, **given,
    )  # fmt: skip


def placed(noted: dict[str, Any], runway: RunwaySite, later: float = 0.0, *, by_pressure: bool = False) -> Fixes:
    """Put what a receiver noted on the earth, by a general geodesic library (geographiclib)."""
    head = runway.heading_true
    origin = Geodesic.WGS84.Direct(runway.latitude, runway.longitude, head, runway.touchdown_ft * FOOT)
    places = []
    for x, y in zip(noted["x"], noted["y"], strict=True):
        right = -y if runway.left else y
        azimuth = head + math.degrees(math.atan2(right, x))
        there = Geodesic.WGS84.Direct(origin["lat2"], origin["lon2"], azimuth, math.hypot(x, y))
        places.append((there["lat2"], there["lon2"]))
    latitude, longitude = np.array(places).T
    return Fixes(noted["t"] + EPOCH + later, latitude, longitude, noted["h"], by_pressure)


def setting_of(lesson: Lesson, runway: RunwaySite, error_kt: tuple[float, float] = (0.0, 0.0)) -> TrackSetting:
    """What the school knows: the wind at the field with an error along and across."""
    along, across = lesson.air.along + error_kt[0] * KNOT, lesson.air.across + error_kt[1] * KNOT
    right = -across if runway.left else across
    towards = runway.heading_true + math.degrees(math.atan2(right, along))
    wind = FieldWind((towards + 180) % 360, math.hypot(along, across) / KNOT)
    gates = lesson.gates
    return TrackSetting(gates.spots, gates.shape, gates.track, gates.stall_kt, 0.0, 1000.0, wind)


def measure(
    lesson: Lesson, receiver: NoisyReceiver, seed: int, runway: RunwaySite, wind_error: float = 2.0
) -> MeasuredFlight:
    rng = np.random.default_rng(seed + 900)
    error = (float(rng.normal(0, wind_error)), float(rng.normal(0, wind_error)))
    fixes = placed(receiver.note(lesson.truth, seed + 500), runway, by_pressure=receiver.by_pressure)
    return measure_flight(fixes, [runway], setting_of(lesson, runway, error))


@dataclass(frozen=True)
class TrueCircuit:
    ending: str
    ends: float
    at_gates: dict[str, dict[str, float]]
    touchdown: float | None


def true_circuits(lesson: Lesson) -> Iterator[TrueCircuit]:
    """Every circuit with how it ended and the truth at its gates, by quantity."""
    events, columns = lesson.truth.events, lesson.truth.columns
    begins = 0.0
    for event in events:
        if event.kind == "lift_off":
            begins = event.at
        if event.kind not in ("touchdown", "go_around"):
            continue
        ending = event.kind
        if event.kind == "touchdown":
            ending = next(row.kind for row in events if row.at > event.at)
        piece = slice(*np.searchsorted(columns["t"], (begins, event.at)))
        rows = {name: values[piece] for name, values in columns.items()}
        touchdown = event.x / FOOT if event.kind == "touchdown" else None
        yield TrueCircuit(ending, _over_the_point(lesson, event.at) + EPOCH, _at_gates(rows, lesson.gates), touchdown)
        begins = event.at


def _over_the_point(lesson: Lesson, at: float) -> float:
    """When it came over the touchdown point: a go-around may be begun a minute earlier."""
    columns = lesson.truth.columns
    over = columns["t"][(columns["t"] >= at) & (columns["x"] >= 0)]
    # A short landing may stop before it.
    return float(over[0]) if len(over) else at


def _at_gates(rows: dict[str, Any], gates: GateSetFile) -> dict[str, dict[str, float]]:
    vx, vy = np.gradient(rows["x"], rows["t"]), np.gradient(rows["y"], rows["t"])
    course = np.unwrap(np.arctan2(vy, vx))
    back = np.nonzero(np.cos(course) < -0.9)[0]
    if not len(back):
        return {}
    first, last = int(back[0]), int(back[-1])
    found = {}
    final = next(row for row in gates.stations if row.leg is Leg.FINAL)
    for station in gates.stations[1:-1]:
        x, y = (value * FOOT for value in gates.track.position_at(station.along_ft))
        if station == final:
            at = _wings_level(rows, course, last)
        elif station.leg is Leg.UPWIND:
            at = _first(rows["x"][:first] >= x, 0)
        elif station.leg is Leg.DOWNWIND:
            at = _first(rows["x"][first - 100 : last + 150] <= x, first - 100)
        elif station.leg is Leg.FINAL:
            at = _first(rows["x"][last:] >= x, last)
        elif gates.shape is Shape.SQUARE:
            at = _first(rows["y"][last - 100 :] <= y, last - 100)
        else:
            _, _, begins, ends = gates.track.corners
            share = (station.along_ft - begins) / (ends - begins)
            turned = course - 2 * math.pi * round((course[last] - math.pi) / (2 * math.pi))
            at = _first(turned[last:] >= math.pi * (1 + share), last)
        if at:
            found[station.code] = {
                "height": rows["h"][at] / FOOT,
                "speed": rows["airspeed"][at] / KNOT,
                "ground_speed": math.hypot(vx[at], vy[at]) / KNOT,
                "bank": abs(rows["bank"][at]),
                "distance": -rows["x"][at] / FOOT,
            }
    return found


def _first(mask: Any, offset: int) -> int | None:
    places = np.nonzero(mask)[0]
    # At the first row it was there already: not crossed.
    return int(places[0]) + offset if len(places) and places[0] > 0 else None


def _wings_level(rows: dict[str, Any], course: Any, last: int) -> int | None:
    off = np.abs((course[last:] + math.pi) % (2 * math.pi) - math.pi)
    level = (np.abs(rows["bank"][last:]) < 6) & (off < math.radians(7))
    run = 0
    for place, good in enumerate(level):
        run = run + 1 if good else 0
        if run == 30:
            return last + place - 29
    return None


@dataclass
class Score:
    """How the endings were told, and how far the readings lay from the truth, by quantity and by gate."""

    endings: Counter[tuple[str, str]] = field(default_factory=Counter)
    errors: dict[tuple[str, str], list[float]] = field(default_factory=lambda: defaultdict(list))
    outside: Counter[str] = field(default_factory=Counter)
    count: Counter[str] = field(default_factory=Counter)
    untold: Counter[str] = field(default_factory=Counter)

    def add(self, lesson: Lesson, measured: MeasuredFlight) -> None:
        left = list(measured.circuits)
        for true in true_circuits(lesson):
            near = min(left, key=lambda row, ends=true.ends: abs(row.ends - ends), default=None)
            if near is None or abs(near.ends - true.ends) > MATCHED_WITHIN_S:
                self.endings[true.ending, "lost"] += 1
                continue
            left.remove(near)
            self.endings[true.ending, near.ended] += 1
            for reading in near.readings:
                self._add_reading(true, reading)
        for row in left:
            self.endings["none", row.ended] += 1

    def _add_reading(self, true: TrueCircuit, reading: Any) -> None:
        at = true.at_gates.get(reading.gate, {})
        if reading.gate == "touchdown" and reading.quantity == "distance":
            at = {} if true.touchdown is None else {"distance": true.touchdown}
        if reading.quantity not in at:
            return
        kind = "touchdown" if reading.gate == "touchdown" else reading.quantity
        if reading.value is None:
            self.untold[kind] += 1
            return
        off = abs(reading.value - at[reading.quantity])
        self.errors[reading.gate, reading.quantity].append(off)
        self.count[kind] += 1
        self.outside[kind] += off > reading.error

    def right(self, ending: str) -> float:
        told = {said: count for (true, said), count in self.endings.items() if true == ending}
        return told.get(ending, 0) / max(1, sum(told.values()))

    def landings_that_were_none(self) -> int:
        landed = ("full_stop", "touch_and_go")
        return sum(n for (true, said), n in self.endings.items() if true in ("go_around", "none") and said in landed)

    def lines(self) -> list[str]:
        rows = [f"{true} -> {said}: {count}" for (true, said), count in sorted(self.endings.items())]
        for (gate, quantity), values in sorted(self.errors.items()):
            rows.append(f"{gate} {quantity}: 95 % within {np.percentile(values, 95):.0f}, n {len(values)}")
        return rows + [
            f"{k}: {self.outside[k]} of {self.count[k]} outside, {self.untold[k]} untold" for k in self.count
        ]


def score(name: str, receiver: NoisyReceiver, seeds: range, *, left: bool = True, wind_error: float = 2.0) -> Score:
    found = Score()
    for seed in seeds:
        lesson = flown_lesson(name, seed)
        found.add(lesson, measure(lesson, receiver, seed, runway_at(left=left), wind_error))
    return found
