"""Keep a flight track with a lesson, enter its numbers in the lesson, and remove it again."""

import base64
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from grading.actions import recording
from grading.exchange.flight_tracks import TrackFound
from grading.models import FlightTrack
from grading.reading.flight_tracks import entries_from_track, kept_circuits
from lessons.models import Lesson
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide, can_manage_records


def may_keep_track(person: Person, lesson: Lesson) -> bool:
    """Return whether a person may keep a track with a lesson: its instructor, the chief, the administrator."""
    return person.is_active and (lesson.instructor_id == person.pk or can_decide(person) or can_manage_records(person))


def may_remove_track(person: Person, lesson: Lesson) -> bool:
    """Return whether a person may remove a track: who may keep one, and the student, whose way it shows."""
    return may_keep_track(person, lesson) or (person.is_active and lesson.enrolment.student_id == person.pk)


@transaction.atomic
def keep_track(
    *, lesson: Lesson, found: TrackFound, numbers: Mapping[int, int | None], by: Person, at: datetime
) -> FlightTrack:
    """Keep what was read of a track. numbers: the circuit of the lesson by the place of the measured one, from 1."""
    locked = Lesson.objects.select_for_update(of=("self",)).filter(pk=lesson.pk).first()
    if locked is None:
        raise Refusal("This lesson was discarded meanwhile: it is not on record any more.")
    if not may_keep_track(by, lesson):
        raise Refusal("A track is kept by the instructor of the lesson, the chief instructor or the administrator.")
    if FlightTrack.objects.filter(lesson=lesson, sha256=found.sha256).exists():
        raise Refusal("This file is kept with this lesson already.")
    _check_numbers(lesson, found, numbers)
    circuits = [{**row, "number": numbers.get(place)} for place, row in enumerate(found.circuits, start=1)]
    track = FlightTrack.objects.create(
        lesson=lesson,
        sha256=found.sha256,
        form=found.form,
        fixes=found.fixes,
        first_at=datetime.fromisoformat(found.first_at),
        last_at=datetime.fromisoformat(found.last_at),
        step_seconds=round(found.step_seconds, 2),
        by_pressure=found.by_pressure,
        aerodrome_id=found.aerodrome,
        gate_set_id=found.gate_set,
        wind_from=found.wind_from,
        wind_speed_kt=found.wind_speed_kt,
        positions=base64.b64decode(found.positions),
        circuits=circuits,
        ways=base64.b64decode(found.ways),
        imported_at=at,
        imported_by=by,
    )
    after = {"file": found.sha256, "circuits": [{"ended": row["ended"], "number": row["number"]} for row in circuits]}
    journal.record(by=by, at=at, what="flight track kept", subject=track, after=after, derived=False)
    return track


def _check_numbers(lesson: Lesson, found: TrackFound, numbers: Mapping[int, int | None]) -> None:
    chosen = [number for number in numbers.values() if number is not None]
    if len(set(chosen)) < len(chosen):
        raise Refusal("Two circuits of the track are said to be the same circuit of the lesson: choose one of them.")
    flown = set(lesson.circuits.values_list("number", flat=True))
    if not set(chosen) <= flown or not set(numbers) <= set(range(1, len(found.circuits) + 1)):
        raise Refusal("A circuit that was chosen is not in this lesson any more. Load the page again.")


@transaction.atomic
def remove_track(*, track: FlightTrack, by: Person, at: datetime) -> None:
    """Remove a track with its readings. Numbers that were entered from it stay: the instructor made them their own."""
    if not may_remove_track(by, track.lesson):
        raise Refusal("A track is removed by its student, the instructor of the lesson, or the school's office.")
    before = {"file": track.sha256, "circuits": len(track.circuits)}
    journal.record(by=by, at=at, what="flight track removed", subject=track, before=before, derived=False)
    track.delete()


@transaction.atomic
def enter_readings(*, lesson: Lesson, track: FlightTrack, place: int, by: Person, at: datetime) -> int:
    """Enter the readings of one circuit as numbers of the lesson and return how many were written.

    Only those by `entries_from_track`; the instructor of the lesson does it, before signing.
    """
    circuit = next((row for row in kept_circuits(track) if row.place == place), None)
    if circuit is None or circuit.number is None:
        raise Refusal("This circuit of the track is none of the lesson, so its numbers have nowhere to go.")
    # Before anything is read of it: of two requests at once the second finds the numbers of the first.
    lesson = recording.lock_lesson(lesson, by)
    entries = entries_from_track(lesson, track, circuit)
    return len(recording.record_entries(lesson=lesson, entries=entries, by=by, at=at))
