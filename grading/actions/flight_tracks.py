"""Keep a flight track with a lesson, enter its numbers in the lesson, and remove it again."""

import base64
from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from grading.actions import recording
from grading.actions.track_seals import seal_tracks
from grading.evidence import chain
from grading.evidence.track_payload import build_track_removal_payload
from grading.exchange.flight_tracks import TrackFound
from grading.models import FlightTrack, Seal, TrackTerm
from grading.reading.flight_tracks import entries_from_track, kept_circuits
from grading.reading.track_terms import LEAST_MONTHS, MOST_MONTHS, track_months, tracks_past_term
from lessons.models import Lesson
from lessons.rules.flight_track.packed_track import pack_readings
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.models import Person
from school.permissions import can_decide, can_manage_records

UNSURE = "unsure"
NOTHING_CERTAIN = (
    "The track tells nothing certain of this circuit. Tap it on the page of the lesson, then remove the track and add"
    " it again: it finds its circuit."
)


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
    same = FlightTrack.objects.filter(lesson=lesson, sha256=found.sha256).first()
    if same is not None and same.removed_at:
        raise Refusal("This file was removed from this lesson: its readings are sealed, and it cannot be added again.")
    if same is not None:
        raise Refusal("This file is kept with this lesson already.")
    if locked.is_signed:
        chain.lock_for_sealing(locked.enrolment)
    _check_numbers(lesson, found, numbers)
    circuits = [
        {**row, "number": numbers.get(place), "readings": pack_readings(row["readings"])}
        for place, row in enumerate(found.circuits, start=1)
    ]
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
        after_signing=locked.is_signed,
    )
    if locked.is_signed:
        # Nothing of the signed lesson changes, so it has a seal of its own; before, the signature seals it.
        track.refresh_from_db(fields=["circuits", "step_seconds"])
        seal_tracks([track], at)
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
    """Remove a track. Numbers that were entered from it stay: the instructor made them their own.

    Before its lesson is signed nothing of it is left. Afterwards its positions go, and it is shown no more; its
    readings and the fingerprint of its file stay, because they are sealed.
    """
    if not may_remove_track(by, track.lesson):
        raise Refusal("A track is removed by its student, the instructor of the lesson, or the school's office.")
    # As whoever signs the lesson takes them: the lesson, the enrolments, the chain.
    lesson = Lesson.objects.select_for_update(of=("self",)).get(pk=track.lesson_id)
    kept = FlightTrack.objects.filter(pk=track.pk, removed_at=None).first()
    if kept is None:
        raise Refusal("This track was removed meanwhile.")
    before = {"file": track.sha256, "circuits": len(track.circuits)}
    if not lesson.is_signed:
        journal.record(by=by, at=at, what="flight track removed", subject=track, before=before, derived=False)
        track.delete()
        return
    chain.lock_for_sealing(lesson.enrolment)
    _forget_positions(track)
    track.removed_at, track.removed_by = at, by
    track.save(update_fields=["positions", "ways", "removed_at", "removed_by"])
    record = build_track_removal_payload(track)
    chain.seal(kind=Seal.Kind.TRACK_REMOVED, subject=track.uid, record=record, at=at)
    journal.record(by=by, at=at, what="flight track removed", subject=track, before=before, derived=False)


def _forget_positions(track: FlightTrack) -> None:
    track.positions, track.ways = b"", b""


@transaction.atomic
def set_track_term(*, months: int, by: Person, at: datetime) -> TrackTerm:
    """Set for how many months after a lesson the positions of its tracks are kept."""
    if not can_decide(by):
        raise Refusal("Only the chief instructor sets how long positions are kept.")
    if not LEAST_MONTHS <= months <= MOST_MONTHS:
        raise Refusal(f"Positions are kept for {LEAST_MONTHS} to {MOST_MONTHS} months, not for {months}.")
    before = track_months()
    if months == before:
        raise Refusal(f"Positions are kept for {months} months already.")
    term = TrackTerm.objects.create(months=months, decided_at=at, decided_by=by)
    after = {"months": months}
    journal.record(
        by=by, at=at, what="time of positions set", subject=term, before={"months": before}, after=after, derived=False
    )
    return term


@transaction.atomic
def delete_old_positions(*, at: datetime) -> int:
    """Delete the positions of tracks whose lesson is longer ago than the school keeps them, and return how many."""
    old = list(tracks_past_term(school_day(at)).select_for_update(of=("self",)).order_by("pk"))
    for track in old:
        _forget_positions(track)
        track.save(update_fields=["positions", "ways"])
        after = {"file": track.sha256, "positions": track.fixes}
        journal.record(by=None, at=at, what="positions of a track deleted", subject=track, before=after, derived=False)
    return len(old)


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


@transaction.atomic
def grade_circuit(*, lesson: Lesson, track: FlightTrack, place: int, by: Person, at: datetime) -> int:
    """Make a circuit of the lesson of one that nobody tapped, with the ending and the certain numbers of the track.

    The instructor of the lesson does it, before signing, and grades it then like any other. Returns its number.
    """
    lesson = recording.lock_lesson(lesson, by)
    # Read again under the lock: of two requests at once the second finds what the first made.
    track = FlightTrack.objects.select_related("aerodrome").get(pk=track.pk)
    circuit = next((row for row in kept_circuits(track) if row.place == place), None)
    if circuit is None or circuit.number is not None:
        raise Refusal("This circuit of the track is one of the lesson already.")
    number = lesson.circuits.count() + 1
    ending = lesson.unit.ending if circuit.ended == UNSURE else circuit.ended
    taps = recording.record_entries(lesson=lesson, entries={f"circuit.{number}.ending": ending}, by=by, at=at)
    track = _number_circuit(track, place, number, by, at)
    circuit = kept_circuits(track)[place - 1]
    taps += recording.record_entries(lesson=lesson, entries=entries_from_track(lesson, track, circuit), by=by, at=at)
    if not taps:
        # A circuit in which nothing is tapped is none that a signature could stand for.
        raise Refusal(NOTHING_CERTAIN)
    return number


def _number_circuit(track: FlightTrack, place: int, number: int, by: Person, at: datetime) -> FlightTrack:
    """Keep a track anew with one circuit more that is of the lesson; a track that is kept does not change."""
    track.delete()
    track.pk = None
    track.circuits = [
        {**row, "number": number} if at_place == place else row for at_place, row in enumerate(track.circuits, start=1)
    ]
    track.save(force_insert=True)
    after = {"file": track.sha256, "place": place, "number": number}
    journal.record(by=by, at=at, what="circuit of a flight track graded", subject=track, after=after, derived=False)
    return track
