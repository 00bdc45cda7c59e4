"""Files of flight tracks as a logger writes them, of lessons that the simulator has flown."""

from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import numpy as np

from grading.actions.track_seals import seal_tracks
from grading.models import FlightTrack, TrackUpload
from grading.simulation.flight.flying import KNOT, Aeroplane, Air, NoisyReceiver, Plan, Truth
from grading.simulation.flight.gate_sets import gate_set
from lessons.models import GateSet, Lesson
from lessons.rules.flight_track.flight import Fixes
from lessons.rules.flight_track.packed_track import pack_positions, pack_ways
from lessons.rules.flight_track.place import RunwaySite
from school.models import Runway
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries
from tests.lessons.rules.flight_track.trial import EPOCH, placed

THRESHOLD = ("52.000000", "-1.500000")
HEADWIND_KT = 8
ENDINGS = ("touch_and_go", "go_around", "full_stop")


@lru_cache(maxsize=8)
def flown(*endings: str) -> Truth:
    """A lesson of the tailwheel type in 8 kt from ahead, as the wind that `place_runway` belongs to."""
    air = Air(-HEADWIND_KT * KNOT, 0.0)
    return Aeroplane(gate_set("tailwheel"), air, seed=3).fly([Plan(ending) for ending in endings])


def place_runway(cast: Cast) -> Runway:
    """Give the runway of the cast its place on the earth."""
    latitude, longitude = THRESHOLD
    Runway.objects.filter(pk=cast.runway.pk).update(
        threshold_latitude=latitude, threshold_longitude=longitude, heading_true="180.0"
    )
    return Runway.objects.get(pk=cast.runway.pk)


def tapped_lesson(cast: Cast, *endings: str, days_ago: int = 0) -> Lesson:
    """A lesson with tapped circuits, in the wind of the simulator, on a runway with its place."""
    place_runway(cast)
    lesson = begin_lesson(cast, days_ago=days_ago)
    record_entries(cast, lesson, **{"lesson.runway": str(cast.runway.pk)})
    for number, ending in enumerate(endings or ENDINGS, start=1):
        record_circuit(cast, lesson, number, **{"ending": ending})
    Lesson.objects.filter(pk=lesson.pk).update(wind_direction=180, wind_speed_kt=HEADWIND_KT, wind_reference="true")
    return Lesson.objects.for_pages().get(pk=lesson.pk)


def logged(cast: Cast, *endings: str, hour: int = 9, days_ago: int = 0, **receiver: Any) -> Fixes:
    """What a receiver noted of such a lesson over the runway of the cast, begun at an hour of a day."""
    runway = cast.runway
    place = RunwaySite(
        1, "18", float(THRESHOLD[0]), float(THRESHOLD[1]), 180.0, runway.length_ft, runway.touchdown_ft, True
    )
    used = NoisyReceiver(**receiver)
    later = cast.at(hour, days_ago).timestamp() - EPOCH
    noted = used.note(flown(*(endings or ENDINGS)), seed=11)
    return placed(noted, place, later, by_pressure=used.by_pressure)


def gpx_file(fixes: Fixes) -> bytes:
    rows = "".join(
        f'<trkpt lat="{latitude:.7f}" lon="{longitude:.7f}"><ele>{height:.1f}</ele><time>{_moment(at)}</time></trkpt>'
        for at, latitude, longitude, height in zip(
            fixes.seconds, fixes.latitude, fixes.longitude, fixes.height, strict=True
        )
    )
    head = '<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}<trk><trkseg>{rows}</trkseg></trk></gpx>".encode()


def _moment(at: float) -> str:
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def create_track(cast: Cast, lesson: Lesson) -> FlightTrack:
    """A track of one touch and go that was kept with a lesson, without a file and without measuring."""
    begins, ends = cast.at(9), cast.at(10)
    fixes = Fixes(*(np.array([value, value + 1e-4]) for value in (begins.timestamp(), 52.0, -1.5, 100.0)), False)
    reading = {"gate": "abeam", "quantity": "height", "value": 712.0, "error": 65.0, "why_not": ""}
    circuit = {
        "number": 1, "begins": begins.isoformat(), "ends": ends.isoformat(), "runway": "18", "ended": "touch_and_go",
        "sure": 0.9, "readings": [reading], "orbits": 0, "off_pattern": False,
    }  # fmt: skip
    signed = Lesson.objects.signed().filter(pk=lesson.pk).exists()
    track = FlightTrack.objects.create(
        lesson=lesson, sha256="0" * 64, form="gpx", fixes=3600, first_at=begins, last_at=ends, step_seconds=1,
        by_pressure=False, aerodrome=cast.runway.aerodrome, gate_set=GateSet.objects.get(aircraft_type=cast.type),
        wind_from=180, wind_speed_kt=8, positions=pack_positions(fixes), circuits=[circuit],
        ways=pack_ways([[(0, 0, 0, 0), (3000, 3400, 900, 100), (0, 0, 0, 200)]]), imported_at=ends,
        imported_by=cast.bert, after_signing=signed,
    )  # fmt: skip
    if signed:
        seal_tracks([track], cast.at(15))
    return track


def create_upload(cast: Cast, lesson: Lesson) -> TrackUpload:
    """A file of Bert that was read for a lesson, without a file and without measuring."""
    begins, ends = cast.at(9).isoformat(), cast.at(10).isoformat()
    told = {
        "form": "gpx", "fixes": 3600, "left_out": 0, "first_at": begins, "last_at": ends, "step_seconds": 1.0,
        "by_pressure": False,
    }  # fmt: skip
    more = {
        "lesson": str(lesson.uid), "person": cast.bert.pk, "sha256": "1" * 64, "aerodrome": cast.runway.aerodrome_id,
        "gate_set": GateSet.objects.get(aircraft_type=cast.type).pk, "wind_from": 180, "wind_speed_kt": 8,
        "positions": "", "circuits": [], "ways": "",
    }  # fmt: skip
    return TrackUpload.objects.create(
        name="a.gpx", sha256="1" * 64, content=b"", uploaded_at=cast.at(11), uploaded_by=cast.bert, read_at=cast.at(11),
        lesson_uid=lesson.uid, told=told, found=told | more,
    )  # fmt: skip
