"""Build the records of flight tracks that are sealed: what was measured, never where the aircraft was.

In the sealed lesson stands only which files were kept with it; the readings have a seal of their own, so that a track
that is kept after signing is sealed in the same form.
"""

from typing import Any

from grading.evidence.lesson_payload import FORMAT, person_reference, utc_timestamp
from grading.models import FlightTrack
from lessons.rules.flight_track.packed_track import unpack_readings


def build_track_payload(track: FlightTrack) -> dict[str, Any]:
    """Build everything that a track states, with the circuits as they were matched and each reading with its error."""
    return {
        "format": FORMAT,
        "record": "flight track",
        "id": str(track.uid),
        "lesson": str(track.lesson.uid),
        "date": track.lesson.on.isoformat(),
        "student": person_reference(track.lesson.enrolment.student),
        "file": track.sha256,
        "form": track.form,
        "first_at": utc_timestamp(track.first_at),
        "last_at": utc_timestamp(track.last_at),
        "positions": track.fixes,
        "seconds_between": str(track.step_seconds),
        "by_pressure": track.by_pressure,
        "method": track.method,
        "aerodrome": str(track.aerodrome),
        "aerodrome_code": track.aerodrome.ident,
        "wind": {"from": track.wind_from, "speed_kt": track.wind_speed_kt, "north": "true"},
        "circuits": [_circuit(row) for row in track.circuits],
        "by": person_reference(track.imported_by),
        # Not "at": it is kept before the lesson is signed, and sealed with it.
        "kept_at": utc_timestamp(track.imported_at),
    }


def _circuit(row: dict[str, Any]) -> dict[str, Any]:
    return {**row, "readings": unpack_readings(row["readings"])}


def build_track_removal_payload(track: FlightTrack) -> dict[str, Any]:
    assert track.removed_by is not None
    return {
        "format": FORMAT,
        "record": "removal of a flight track",
        "track": str(track.uid),
        "by": person_reference(track.removed_by),
        "at": utc_timestamp(track.removed_at),
    }
