"""Circuits flown in wind by dynamics of their own, and what a receiver makes of them. It knows nothing of measuring.

An aeroplane with a limited bank, rate of bank and acceleration follows the circuit of a gate set; x along the takeoff,
y to the circuit's side, metres from the touchdown point. The wind grows and veers with height by figures that the
measuring does not know, and the air is turbulent. A receiver adds an error that wanders slowly, and a little noise.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from grading.simulation.flight.gate_sets import GateSetFile

FOOT, KNOT, GRAVITY, STEP = 0.3048, 0.514444, 9.80665, 0.1
ORBIT_RADIUS = 420.0


@dataclass
class Plan:
    """One circuit as its pilot means to fly it: metres, m/s, seconds, stall speeds."""

    ending: str = "touch_and_go"
    higher: float = 0.0
    faster: float = 0.0
    wider: float = 1.0
    later: float = 0.0
    aim: float = 40.0
    climbs_away_at: float = 30.0
    rolls_for: float = 5.0
    touches_at: float = 1.04
    orbit: bool = False


def some_plans(count: int, rng: np.random.Generator) -> list[Plan]:
    """Plans as students have them; the last is a full stop."""
    plans = []
    for k in range(count):
        ending = rng.choice(["touch_and_go", "full_stop", "go_around"], p=[0.55, 0.2, 0.25])
        plans.append(
            Plan(
                str(ending) if k < count - 1 else "full_stop",
                rng.normal(0, 18),
                rng.normal(0, 2.2),
                rng.normal(1, 0.08),
                rng.normal(0, 80),
                rng.uniform(5, 140),
                float(rng.choice([8, 15, 30, 60, 90])),
                rng.uniform(3, 7),
                rng.uniform(1.0, 1.1),
            )
        )
    return plans


@dataclass
class Air:
    """Wind at the field, m/s, as the air moves; how it grows and veers up to 300 m; turbulence."""

    along: float
    across: float
    growth: float = 0.5
    veer: float = 12.0
    gust: float = 0.8

    def at(self, height: float) -> tuple[float, float]:
        share = min(1.0, max(0.0, height / 300.0)) ** 0.6
        grown, turn = 1 + self.growth * share, math.radians(-self.veer * share)
        cosine, sine = math.cos(turn), math.sin(turn)
        return (
            grown * (self.along * cosine - self.across * sine),
            grown * (self.along * sine + self.across * cosine),
        )


@dataclass
class Event:
    kind: str
    circuit: int
    at: float
    x: float


@dataclass
class Truth:
    """Ten times a second: seconds, place, height, speed through the air, bank in degrees. `events`: what happened."""

    rows: list[tuple[float, float, float, float, float, float]] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)

    @property
    def columns(self) -> dict[str, Any]:
        return dict(zip(("t", "x", "y", "h", "airspeed", "bank"), np.array(self.rows).T, strict=True))


class Aeroplane:
    """Flies circuits one after another and writes down the truth."""

    def __init__(self, gates: GateSetFile, air: Air, seed: int) -> None:
        self.gates, self.air, self.rng = gates, air, np.random.default_rng(seed)
        self.truth = Truth()
        self.t = self.y = self.h = self.airspeed = self.heading = self.bank = self.climb = 0.0
        self.x, self.eddies = -150.0, np.zeros(2)
        self.stall = gates.stall_kt * KNOT
        self.flown_along, self.sees = np.zeros(1), 40

    def fly(self, plans: Sequence[Plan]) -> Truth:
        self._stand(60)
        flying_on = False
        for number, plan in enumerate(plans, 1):
            if not flying_on:
                self._take_off(number)
            self._round(number, plan, flying_on)
            flying_on = plan.ending == "go_around"
            if flying_on:
                self._climb_away()
            else:
                self._roll_out(number, plan)
        self._stand(20)
        return self.truth

    def _write(self) -> None:
        self.truth.rows.append((self.t, self.x, self.y, self.h, self.airspeed, math.degrees(self.bank)))
        self.t += STEP

    def _event(self, kind: str, circuit: int) -> None:
        self.truth.events.append(Event(kind, circuit, self.t, self.x))

    def _stand(self, seconds: float) -> None:
        for _ in range(int(seconds / STEP)):
            self._write()

    def _take_off(self, number: int) -> None:
        along = self.air.at(0)[0]
        speed = max(0.0, self.airspeed + along) if self.airspeed else 0.0
        self.airspeed = max(speed - along, self.airspeed)
        while self.airspeed < self.stall * 1.2:
            self.airspeed += 1.9 * STEP * (0.55 + 0.45 * (1 - self.airspeed / (90 * KNOT)))
            self.x += max(0.0, self.airspeed + along) * STEP
            self.y -= 0.1 * self.y * STEP
            self._write()
        self._event("lift_off", number)

    def _round(self, number: int, plan: Plan, flying_on: bool) -> None:
        path, along_of = self._path(plan)
        steps = np.hypot(*np.diff(path, axis=0).T)
        self.flown_along = np.concatenate([[0.0], np.cumsum(steps)])
        place = int(np.argmin(np.hypot(path[:300, 0] - self.x, path[:300, 1] - self.y)))
        length = self.gates.track.length * FOOT
        # As columns: each is looked up ten times a second.
        heights = np.array([(0.0, 0.0), *self.gates.targets("height", FOOT), (length, 0.0)]).T
        speeds = np.array([*self.gates.targets("speed", KNOT), (length, 1.08 * self.stall)]).T
        self.climb = self.climb if flying_on else 0.0
        # An orbit comes back to where it began: who looks far ahead would leave it out.
        self.sees = 12 if plan.orbit else 40
        while True:
            place, velocity = self._steer(path, along_of, place)
            along = along_of[place]
            self._throttle(plan, along, length, speeds)
            self._go_up_or_down(plan, along, length, heights, math.hypot(*velocity))
            self.x, self.y = self.x + velocity[0] * STEP, self.y + velocity[1] * STEP
            self._write()
            if plan.ending == "go_around" and along > length * 0.85 and self.h < plan.climbs_away_at:
                return self._event("go_around", number)
            if along > length * 0.9 and self.h <= 0.15:
                return self._event("touchdown", number)
            assert self.t < 40_000, "lost"

    def _path(self, plan: Plan) -> tuple[Any, Any]:
        """The way over the ground and the distance along the target at each of its points, with runs at both ends."""
        track = self.gates.track
        along = np.linspace(0, track.length, 900)
        path = np.array([track.position_at(row) for row in along]) * FOOT
        path[:, 1] *= plan.wider
        path[(path[:, 0] < 0) & (path[:, 1] > 1), 0] -= plan.later
        along = along * FOOT
        if plan.orbit:
            path, along = self._with_orbit(path, along)
        before = np.column_stack([np.linspace(path[0, 0] - 800, path[0, 0], 40)[:-1], np.zeros(39)])
        after = np.column_stack([np.linspace(0, 1500, 60)[1:], np.zeros(59)])
        whole = np.vstack([before, path, after])
        return whole, np.concatenate([np.zeros(39), along, along[-1] + after[:, 0]])

    def _with_orbit(self, path: Any, along: Any) -> tuple[Any, Any]:
        """A full turn away from the runway, abeam the far end of it."""
        downwind = np.nonzero((path[:, 1] > 0.98 * path[:, 1].max()) & (path[:, 0] < 800))[0]
        at = int(downwind[0])
        angle = np.linspace(0, 2 * math.pi, 90)[1:]
        circle = np.column_stack(
            [path[at, 0] - ORBIT_RADIUS * np.sin(angle), path[at, 1] + ORBIT_RADIUS * (1 - np.cos(angle))]
        )
        return np.insert(path, at + 1, circle, axis=0), np.insert(along, at + 1, np.full(len(circle), along[at]))

    def _steer(self, path: Any, along_of: Any, place: int) -> tuple[int, tuple[float, float]]:
        """Turn towards a point ahead on the path, within the bank and the rate of bank of the aeroplane."""
        wind = self._wind()
        velocity = (
            self.airspeed * math.cos(self.heading) + wind[0],
            self.airspeed * math.sin(self.heading) + wind[1],
        )
        speed = math.hypot(*velocity)
        seen = path[place : place + self.sees]
        near = np.hypot(seen[:, 0] - self.x, seen[:, 1] - self.y)
        place += int(np.argmin(near))
        look = max(60.0, 4.5 * speed)
        ahead = min(len(path) - 1, int(np.searchsorted(self.flown_along, self.flown_along[place] + look)))
        off = math.atan2(path[ahead, 1] - self.y, path[ahead, 0] - self.x) - math.atan2(velocity[1], velocity[0])
        off = (off + math.pi) % (2 * math.pi) - math.pi
        wanted = math.atan(2 * speed * speed * math.sin(off) / look / GRAVITY)
        most = math.radians(32) if self.h >= 15 else 0.12
        wanted = max(-most, min(most, wanted))
        self.bank += max(-0.2 * STEP, min(0.2 * STEP, wanted - self.bank))
        self.heading += GRAVITY * math.tan(self.bank) / max(self.airspeed, 20) * STEP
        return place, velocity

    def _wind(self) -> tuple[float, float]:
        along, across = self.air.at(self.h)
        self.eddies += -self.eddies / 6 * STEP + self.air.gust * math.sqrt(2 * STEP / 6) * self.rng.standard_normal(2)
        return along + self.eddies[0], across + 0.7 * self.eddies[1]

    def _throttle(self, plan: Plan, along: float, length: float, speeds: Any) -> None:
        wanted = float(np.interp(along, *speeds))
        wanted += plan.faster if along < length - 80 else 0
        if along > length * 0.9 and self.h < 9:
            wanted = plan.touches_at * self.stall
        self.airspeed += max(-1.2, min(0.9, 0.5 * (wanted - self.airspeed))) * STEP

    def _go_up_or_down(self, plan: Plan, along: float, length: float, heights: Any, speed: float) -> None:
        where, high = heights
        share = min(1, self.h / 60) if along < length - 700 else max(0, (length - along) / 700)
        aimed = along - (max(0.0, plan.aim) if along > length - 900 else 0)
        wanted = (float(np.interp(aimed, where, high)) + plan.higher * share - self.h) * 0.35
        wanted += speed * float(np.interp(along + 60, where, high) - np.interp(along - 60, where, high)) / 120
        wanted = max(-5.5, min(4.6, wanted))
        if along > length * 0.9 and self.h < 8:
            wanted = -max(0.5, 0.32 * self.h)  # the flare
        if along < 500 and self.h < 60:
            wanted = max(wanted, 2.8)
        self.climb += max(-1.5 * STEP, min(1.5 * STEP, wanted - self.climb))
        self.h = max(0.0, self.h + self.climb * STEP)

    def _climb_away(self) -> None:
        self.heading = (self.heading + math.pi) % (2 * math.pi) - math.pi
        begun = self.t
        while self.t - begun < 8 or (self.h < 25 and self.t - begun < 30):
            along, across = self.air.at(self.h)
            self.airspeed += max(-1.2, min(1.2, 0.5 * (80 * KNOT - self.airspeed))) * STEP
            self.climb = min(3.8, self.climb + 1.2 * STEP)
            self.h = max(0.3, self.h + self.climb * STEP)
            drift = math.asin(max(-0.5, min(0.5, across / self.airspeed)))
            self.heading += (math.atan2(-0.02 * self.y, 1) - drift - self.heading) * 0.3 * STEP
            self.bank *= 0.9
            self.x += (self.airspeed * math.cos(self.heading) + along) * STEP
            self.y += (self.airspeed * math.sin(self.heading) + across) * STEP
            self._write()

    def _roll_out(self, number: int, plan: Plan) -> None:
        self.h = self.bank = self.heading = 0.0
        along = self.air.at(0)[0]
        speed, begun, stops = max(0.0, self.airspeed + along), self.t, plan.ending == "full_stop"
        while speed > 4 if stops else self.t - begun < plan.rolls_for:
            speed -= (0.9 + 0.5 * min(1, (self.t - begun) / 2)) * STEP
            self.airspeed = speed - along
            self.x += speed * STEP
            self.y *= 0.998
            self._write()
        self._event(plan.ending, number)
        if stops:
            self._taxi_back()

    def _taxi_back(self) -> None:
        for to_x, to_y in ((self.x + 15, -60.0), (-140.0, -60.0), (-150.0, 0.0)):
            while math.hypot(to_x - self.x, to_y - self.y) > 4:
                course = math.atan2(to_y - self.y, to_x - self.x)
                self.x, self.y = self.x + 7 * math.cos(course) * STEP, self.y + 7 * math.sin(course) * STEP
                self.airspeed = 7.0
                self._write()
        self.airspeed = 0.0
        self._stand(60)


@dataclass
class NoisyReceiver:
    """Noise of a telephone: metres level and vertical, seconds over which they wander; `drops` a second."""

    step: float = 1.0
    level: float = 4.0
    vertical: float = 8.0
    by_pressure: bool = False
    drops: float = 0.0

    def note(self, truth: Truth, seed: int) -> dict[str, Any]:
        """Return seconds, x, y, h as they are noted; heights from a zero of the receiver's own."""
        rng, columns = np.random.default_rng(seed), truth.columns
        places = np.arange(0, len(columns["t"]), round(self.step / STEP))
        count = len(places)

        def wander(sigma: float, lasts: float) -> Any:
            keep = math.exp(-self.step / lasts)
            steps = sigma * math.sqrt(1 - keep * keep) * rng.standard_normal(count)
            found = np.empty(count)
            found[0] = sigma * rng.standard_normal()
            for k in range(1, count):
                found[k] = keep * found[k - 1] + steps[k]
            return found

        each = self.level / math.sqrt(2)
        x = columns["x"][places] + wander(each, 90) + 0.6 * rng.standard_normal(count)
        y = columns["y"][places] + wander(each, 90) + 0.6 * rng.standard_normal(count)
        if self.by_pressure:
            h = columns["h"][places] + 35 + wander(1.5, 900) + 0.7 * rng.standard_normal(count)
        else:
            h = columns["h"][places] + 47 + wander(self.vertical, 150) + 1.2 * rng.standard_normal(count)
        kept = np.ones(count, bool)
        for place in np.nonzero(rng.random(count) < self.drops * self.step)[0]:
            kept[place : place + int(rng.uniform(3, 15) / self.step) + 1] = False
        return {"t": columns["t"][places][kept], "x": x[kept], "y": y[kept], "h": h[kept]}
