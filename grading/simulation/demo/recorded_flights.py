"""Give lessons of the demo their flight tracks: each is flown as it was graded, and noted as a telephone does."""

import hashlib
import math
import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from grading.actions.flight_tracks import keep_track
from grading.exchange.flight_tracks import TrackFile, measure_for_lesson
from grading.models import FlightTrack, Measure
from grading.reading.flight_tracks import field_wind, runway_places
from grading.simulation.flight.flying import KNOT, Aeroplane, Air, NoisyReceiver, Plan
from grading.simulation.flight.gate_sets import gate_set
from grading.simulation.flight.placing import place_noted
from lessons.models import Circuit, Lesson
from lessons.rules.flight_track.place import FOOT, RunwaySite
from lessons.rules.flight_track.setting import air_movement
from lessons.rules.scale import Ending
from lessons.rules.units import convert
from school.models import Person

TAXI_MINUTES = 8
# What an ending is flown as: control that was taken is no way to land.
FLOWN_AS = {Ending.FULL_STOP: "full_stop", Ending.GO_AROUND: "go_around"}
# A go-around in which the wheels brushed the ground: a telephone tells it neither from a landing nor from none.
BRUSHED = Plan("touch_and_go", faster=3.0, rolls_for=3.0, touches_at=1.1)
# How far each type floats past the point that it is aimed at, metres: by flying it.
FLOATS_M = {True: 130.0, False: 50.0}


@dataclass(frozen=True)
class Recording:
    """What is odd in a recorded lesson: a circuit that nobody tapped, a go-around that brushed the ground."""

    untapped: bool = False
    brushed: bool = False


def record_flight(lesson: Lesson, recording: Recording, by: Person, at: datetime) -> FlightTrack:
    """Fly a lesson of the demo again, as its circuits were graded, and keep its track with it."""
    lesson = Lesson.objects.for_pages().get(pk=lesson.pk)
    assert lesson.aircraft is not None
    assert lesson.runway is not None
    site = next(row for row in runway_places().values() if row.key == lesson.runway_id)
    # A generator of its own: no other part of the demo changes with it.
    seed = f"{lesson.enrolment.student.reference} {lesson.number}"
    draw = random.Random(seed)  # noqa: S311 - invented flying, no secret
    gates = gate_set("tailwheel" if lesson.aircraft.type.tailwheel else "nosewheel")
    flown = Aeroplane(gates, _air(lesson, site, draw), draw.randrange(2**31)).fly(_plans(lesson, recording, draw))
    noted = NoisyReceiver(step=2.0, level=3.0, vertical=5.0).note(flown, draw.randrange(2**31))
    begun = (lesson.off_blocks or lesson.begun_at) + timedelta(minutes=TAXI_MINUTES)
    fixes = place_noted(noted, site, round(begun.timestamp()))
    # Of what was flown and not of a file with its times: the demo is moved to the day on which it is opened.
    digest = hashlib.sha256(noted["x"].tobytes() + noted["h"].tobytes()).hexdigest()
    found = measure_for_lesson(lesson, TrackFile(digest, "gpx", 0, fixes), by)
    numbers = {place: row["number"] for place, row in enumerate(found.circuits, start=1)}
    return keep_track(lesson=lesson, found=found, numbers=numbers, by=by, at=at)


def _air(lesson: Lesson, site: RunwaySite, draw: random.Random) -> Air:
    """Return the wind of the lesson as it blew: about what was reported, and growing with height as it likes."""
    assert lesson.runway is not None
    wind = field_wind(lesson, lesson.runway.aerodrome)
    along, across = air_movement(wind, site.heading_true, left=site.left) if wind else (0.0, 0.0)
    return Air(
        along + draw.gauss(0, 1) * KNOT, across + draw.gauss(0, 1) * KNOT, draw.uniform(0.3, 0.8), draw.uniform(2, 18)
    )


def _plans(lesson: Lesson, recording: Recording, draw: random.Random) -> list[Plan]:
    assert lesson.aircraft is not None
    kind = lesson.aircraft.type.tailwheel
    plans = [_plan(row, recording, draw, tailwheel=kind) for row in lesson.circuits.order_by("number")]
    if recording.untapped:
        plans.insert(1, Plan("touch_and_go", draw.gauss(0, 10), draw.gauss(0, 1)))
    return plans


def _plan(circuit: Circuit, recording: Recording, draw: random.Random, *, tailwheel: bool) -> Plan:
    """Return how a circuit is flown: as high and as fast as was noted of it, and down where it was."""
    noted = list(Measure.objects.filter(attempt__circuit=circuit).select_related("target").order_by("pk"))
    ending = FLOWN_AS.get(Ending(circuit.ending), "touch_and_go")
    if ending == "go_around" and recording.brushed:
        return BRUSHED
    touchdown = [float(convert(row.value, row.unit, "ft")) for row in noted if row.target.quantity == "distance"]
    return Plan(
        ending,
        higher=_off(noted, "height", "ft", draw) * FOOT,
        faster=_off(noted, "speed", "kt", draw) * KNOT,
        wider=draw.gauss(1, 0.04),
        later=draw.gauss(0, 40),
        aim=max(5.0, (touchdown[-1] if touchdown else 500.0) * FOOT - FLOATS_M[tailwheel]),
        climbs_away_at=draw.choice((15.0, 30.0, 60.0)),
        rolls_for=draw.uniform(4, 7),
    )


def _off(noted: Sequence[Measure], quantity: str, unit: str, draw: random.Random) -> float:
    """Return how far from its targets a circuit was flown, on the mean of what was noted, within what one flies."""
    rows = [row for row in noted if row.target.quantity == quantity]
    amounts = [float(convert(row.value - row.target.value, row.unit, unit)) for row in rows]
    mean = math.fsum(amounts) / len(amounts) if amounts else 0.0
    # Lower than that it would come to the ground before the runway, which nobody noted.
    least, most = (-20.0, 60.0) if quantity == "height" else (-5.0, 6.0)
    return min(max(mean, least), most) + draw.gauss(0, most / 12)
