"""Keeping a flight track with a lesson: what is read, what is refused, who may, that it is final and can be removed."""

import json
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from grading.actions import discarding, flight_tracks, recording
from grading.evidence.audit.check import audit_records
from grading.evidence.audit.database_guards import GUARDED_TABLES
from grading.evidence.lesson_payload import utc_timestamp
from grading.exchange.flight_tracks import TrackFound, open_found, read_track, sign_found
from grading.exchange.handover.archive import README, RECORD, open_archive
from grading.exchange.handover.package import build_package
from grading.exchange.handover.record_format import decode_record
from grading.exchange.personal_data import collect_personal_data
from grading.models import FlightTrack, Measure, Seal, Tap
from grading.operations.daily import forget_positions
from grading.reading.facts import facts_for, standard_in_force
from grading.reading.flight_tracks import kept_circuits, kept_tracks, kept_ways, removed_tracks
from grading.reading.track_terms import months_before
from grading.rules.readiness import assess
from grading.sheets.complete_content import build_complete_content
from grading.sheets.complete_layout import lay_out_complete
from lessons.models import Lesson
from lessons.rules.flight_track.packed_track import unpack_positions
from school.errors import Refusal
from school.models import Aerodrome, JournalEntry, Person, Runway, School
from tests.cast import Cast
from tests.database_guards import execute_sql
from tests.factories import record_entries, sign_lesson
from tests.track_files import HEADWIND_KT, create_track, gpx_file, logged, tapped_lesson


def read(cast: Cast, lesson: Lesson, *endings: str, by: Person | None = None, **logger: Any) -> TrackFound:
    return read_track(lesson, gpx_file(logged(cast, *endings, **logger)), by or cast.bert)


def keep(cast: Cast, lesson: Lesson, found: TrackFound, by: Person | None = None, **numbers: int | None) -> FlightTrack:
    chosen: dict[int, int | None] = {k: row["number"] for k, row in enumerate(found.circuits, start=1)}
    chosen |= {int(place.removeprefix("c")): number for place, number in numbers.items()}
    return flight_tracks.keep_track(lesson=lesson, found=found, numbers=chosen, by=by or cast.bert, at=cast.at(15))


def test_what_was_read_agrees_with_what_was_tapped(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    found = read(cast, lesson)
    assert [(row["ended"], row["number"]) for row in found.circuits] == [
        ("touch_and_go", 1), ("go_around", 2), ("full_stop", 3)
    ]  # fmt: skip
    assert (found.form, found.step_seconds, found.by_pressure, found.left_out) == ("gpx", 1.0, False, 0)
    assert (found.wind_from, found.wind_speed_kt) == (180, HEADWIND_KT)
    assert not FlightTrack.objects.exists()


def test_the_readings_are_those_that_were_flown(cast: Cast) -> None:
    """The simulator's pilot flies every target to within some feet and knots: so must the readings say."""
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    circuits = kept_circuits(track)
    for circuit in circuits:
        for gate, target in (("downwind", 900), ("abeam", 700), ("turn", 380)):
            reading = circuit.reading(gate, "height")
            assert reading is not None
            assert reading.value == pytest.approx(target, abs=reading.error + 15)
    assert circuits[0].reading("touchdown", "distance")
    assert circuits[1].reading("touchdown", "distance") is None  # a go-around has none


def test_a_circuit_that_nobody_tapped_is_kept_without_a_number(cast: Cast) -> None:
    lesson = tapped_lesson(cast, "touch_and_go", "full_stop")
    track = keep(cast, lesson, read(cast, lesson))
    assert [row.number for row in kept_circuits(track)] == [1, None, 2]


def test_it_is_kept_with_its_journal_entry_and_changes_nothing_of_the_lesson(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    before = list(lesson.circuits.values_list("number", "ending"))
    found = read(cast, lesson)
    track = keep(cast, lesson, found)
    entry = JournalEntry.objects.get(what="flight track kept")
    assert (entry.person_id, entry.about_id) == (cast.bert.pk, cast.dora.pk)
    assert entry.after["file"] == found.sha256 == track.sha256
    assert list(lesson.circuits.values_list("number", "ending")) == before
    assert (track.imported_by, track.imported_at, track.aerodrome) == (cast.bert, cast.at(15), cast.runway.aerodrome)


def test_positions_are_cut_to_the_flying_and_small(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    logged_fixes = logged(cast)
    kept = unpack_positions(bytes(track.positions), by_pressure=False)
    assert 0 < len(kept.seconds) <= len(logged_fixes.seconds)
    # 40 kB for two hours at one fix a second.
    assert len(bytes(track.positions)) + len(bytes(track.ways)) < 40_000 * len(kept.seconds) / 7200 + 500
    at = logged_fixes.seconds.searchsorted(kept.seconds[0])
    assert kept.latitude[0] == pytest.approx(logged_fixes.latitude[at], abs=1e-6)
    ways = kept_ways(track)
    assert [len(way) > 60 for way in ways] == [True, True, True]
    assert max(x for x, *_ in ways[0]) > 3000


def test_what_was_read_cannot_be_altered_on_its_way(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    found = read(cast, lesson)
    text = sign_found(found)
    assert open_found(text, lesson, cast.bert) == found
    with pytest.raises(Refusal, match="choose the file again"):
        open_found(text[:-1] + ("a" if text[-1] != "a" else "b"), lesson, cast.bert)
    with pytest.raises(Refusal, match="another lesson or person"):
        open_found(text, lesson, cast.amelia)


def test_a_track_of_another_day_is_refused_with_both_days(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    with pytest.raises(Refusal, match=r"This track is of .*, the lesson of "):
        read(cast, lesson, days_ago=1)


def test_a_track_of_another_time_is_refused_with_both_times(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    Lesson.objects.filter(pk=lesson.pk).update(off_blocks=cast.at(14), on_blocks=cast.at(15))
    with pytest.raises(Refusal, match=r"runs from 09:00 to .* UTC, the lesson from 14:00 to 15:00 UTC"):
        read(cast, Lesson.objects.for_pages().get(pk=lesson.pk))


def test_without_a_place_there_is_nothing_to_measure_against(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    Runway.objects.update(threshold_latitude=None, threshold_longitude=None)
    with pytest.raises(Refusal, match="No runway has its place yet"):
        read(cast, lesson)
    Runway.objects.update(threshold_latitude="10", threshold_longitude="10")
    with pytest.raises(Refusal, match="within 3 NM of a runway"):
        read(cast, lesson)


def test_a_lesson_away_from_home_is_measured_where_it_was_flown(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    away = Aerodrome.objects.create(ident="ZZZY", name="Away", elevation_ft=10)
    Runway.objects.create(
        aerodrome=away, designator="18", heading_magnetic=180, length_ft=3000, heading_true="180.0",
        threshold_latitude="52.0", threshold_longitude="-1.5",
    )  # fmt: skip
    Runway.objects.filter(pk=cast.runway.pk).update(threshold_latitude="53.0")
    found = read(cast, lesson)
    assert (found.aerodrome, len(found.circuits)) == (away.pk, 3)


def test_without_an_aircraft_there_are_no_gates(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    lesson.aircraft = None
    with pytest.raises(Refusal, match="Choose the aircraft"):
        read(cast, lesson)


def test_positions_too_far_apart_are_not_measured(cast: Cast) -> None:
    with pytest.raises(Refusal, match="10 s between two positions"):
        read(cast, tapped_lesson(cast), step=10.0)


def test_a_file_that_is_none_is_refused_by_its_reader(cast: Cast) -> None:
    with pytest.raises(Refusal, match="no flight track"):
        read_track(tapped_lesson(cast), b"a letter", cast.bert)


@pytest.mark.parametrize(
    ("numbers", "sentence"),
    [({"c2": 1}, "said to be the same circuit"), ({"c2": 9}, "not in this lesson"), ({"c9": 1, "c1": None}, "not in")],
)
def test_a_contradicting_choice_is_refused(cast: Cast, numbers: dict[str, int | None], sentence: str) -> None:
    lesson = tapped_lesson(cast)
    with pytest.raises(Refusal, match=sentence):
        keep(cast, lesson, read(cast, lesson), **numbers)
    assert not FlightTrack.objects.exists()


def test_one_file_is_kept_once(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    found = read(cast, lesson)
    keep(cast, lesson, found)
    with pytest.raises(Refusal, match="kept with this lesson already"):
        keep(cast, lesson, found)


@pytest.mark.parametrize("who", ["cleo", "dora", "emil"])
def test_nobody_else_keeps_one(cast: Cast, who: str) -> None:
    lesson = tapped_lesson(cast)
    with pytest.raises(Refusal, match="kept by the instructor"):
        keep(cast, lesson, read(cast, lesson), by=getattr(cast, who))


@pytest.mark.parametrize("who", ["amelia", "bert", "frida"])
def test_after_signing_it_stands_beside_the_record(cast: Cast, who: str) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    lesson = Lesson.objects.for_pages().get(pk=lesson.pk)
    assert keep(cast, lesson, read(cast, lesson), by=getattr(cast, who)).pk


def test_it_is_final(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    assert FlightTrack._meta.db_table in GUARDED_TABLES
    with pytest.raises(DatabaseError), transaction.atomic():
        FlightTrack.objects.filter(pk=track.pk).update(circuits=[])


@pytest.mark.parametrize("who", ["amelia", "bert", "dora", "frida"])
def test_it_is_removed_with_an_account_of_it(cast: Cast, who: str) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    sha256 = track.sha256
    flight_tracks.remove_track(track=track, by=getattr(cast, who), at=cast.at(16))
    assert not FlightTrack.objects.exists()
    assert JournalEntry.objects.get(what="flight track removed").before == {"file": sha256, "circuits": 3}


@pytest.mark.parametrize("who", ["cleo", "emil"])
def test_nobody_else_removes_it(cast: Cast, who: str) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    with pytest.raises(Refusal, match="removed by its student"):
        flight_tracks.remove_track(track=track, by=getattr(cast, who), at=cast.at(16))


def test_a_discarded_lesson_takes_its_track_with_it(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    keep(cast, lesson, read(cast, lesson))
    discarding.discard_lesson(lesson=lesson, reason="Rain", by=cast.bert, at=cast.at(16))
    assert not FlightTrack.objects.exists()


def test_an_unknown_wind_tells_no_airspeed(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    Lesson.objects.filter(pk=lesson.pk).update(wind_direction=None, wind_speed_kt=None)
    found = read(cast, Lesson.objects.for_pages().get(pk=lesson.pk))
    assert found.wind_speed_kt is None
    told = [row for circuit in found.circuits for row in circuit["readings"] if row["quantity"] == "speed"]
    assert {row["value"] for row in told} == {None}
    assert "no wind" in {row["why_not"] for row in told}


def enter(cast: Cast, lesson: Lesson, track: FlightTrack, place: int = 1, by: Person | None = None) -> int:
    return flight_tracks.enter_readings(lesson=lesson, track=track, place=place, by=by or cast.bert, at=cast.at(15))


def test_readings_that_leave_no_doubt_become_numbers_marked_as_from_a_track(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson, by_pressure=False))
    many = enter(cast, lesson, track)
    measures = Measure.objects.filter(attempt__circuit__lesson=lesson)
    assert many == measures.count() > 3
    assert all(row.from_track for row in measures)
    abeam = measures.get(target__gate__code="abeam", target__quantity="height")
    assert (abeam.effective_unit, abeam.uncertainty) == ("ft", 65)
    assert (abeam.attempt.part, abeam.attempt.circuit and abeam.attempt.circuit.number) == ("downwind", 1)
    tap = Tap.objects.get(field="circuit.1.downwind.measure.abeam.height")
    assert (tap.after, tap.person) == (f"{abeam.value:.0f} ft ±65 from track", cast.bert)
    # A height of ±65 ft tells nothing against 30 or 40 ft on final.
    assert not measures.filter(target__gate__code="final", target__quantity="height").exists()


def test_a_number_that_was_noted_is_never_overwritten(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    field = "circuit.1.downwind.measure.abeam.height"
    record_entries(cast, lesson, **{field: "650"})
    enter(cast, lesson, track)
    abeam = Measure.objects.get(target__gate__code="abeam", target__quantity="height")
    assert (abeam.value, abeam.from_track) == (650, False)
    assert enter(cast, lesson, track) == 0  # all of them are there


def test_what_a_plain_form_sends_again_stays_from_the_track_and_another_number_does_not(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = keep(cast, lesson, read(cast, lesson))
    enter(cast, lesson, track)
    abeam = Measure.objects.get(target__gate__code="abeam", target__quantity="height")
    field = "circuit.1.downwind.measure.abeam.height"
    record_entries(cast, lesson, **{field: f"{abeam.value:.0f}"})
    abeam.refresh_from_db()
    assert abeam.from_track
    record_entries(cast, lesson, **{field: "650"})
    abeam.refresh_from_db()
    assert (abeam.value, abeam.from_track) == (650, False)
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at(15))
    abeam.refresh_from_db()
    assert abeam.from_track


def test_a_circuit_that_is_none_of_the_lesson_has_nowhere_to_go(cast: Cast) -> None:
    lesson = tapped_lesson(cast, "touch_and_go", "full_stop")
    track = keep(cast, lesson, read(cast, lesson))
    for place in (2, 9):
        with pytest.raises(Refusal, match="nowhere to go"):
            enter(cast, lesson, track, place)


@pytest.mark.parametrize("who", ["amelia", "cleo", "dora", "frida"])
def test_only_the_instructor_enters_them(cast: Cast, who: str) -> None:
    lesson = tapped_lesson(cast)
    track = create_track(cast, lesson)
    with pytest.raises(Refusal, match="Only the instructor"):
        enter(cast, lesson, track, by=getattr(cast, who))


def test_after_signing_nothing_is_entered(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = create_track(cast, lesson)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    with pytest.raises(Refusal, match="signed meanwhile"):
        enter(cast, lesson, track)


def test_they_are_sealed_printed_and_checked_as_from_a_track(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    track = create_track(cast, lesson)
    enter(cast, lesson, track)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    sealed = json.loads(Seal.objects.get(subject=lesson.uid).canonical)
    (number,) = [row for row in sealed["circuits"][0]["downwind"]["measures"] if row["gate"] == "abeam"]
    assert (number["value"], number["from_track"]) == ("712.0", "±65.0")
    assert audit_records().findings == []
    tables = lay_out_complete(build_complete_content(cast.enrolment, cast.today)).tables
    (printed,) = [row for table in tables for row in table.lessons]
    assert "712 T" in [cell.text for circuit in printed.circuits for cell in circuit.cells]


@pytest.mark.parametrize("text", ["712 ft ±65", "712 ft ±x from track", "712 ft ±0 from track", "712 ±65 m from track"])
def test_an_uncertainty_is_written_whole_or_not_at_all(cast: Cast, text: str) -> None:
    lesson = tapped_lesson(cast)
    with pytest.raises(Refusal):
        record_entries(cast, lesson, **{"circuit.1.downwind.measure.abeam.height": text})


def test_a_number_from_a_track_is_a_fact_with_its_uncertainty(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{
        "circuit.1.downwind.measure.abeam.height": "207.3 m ±19.8 from track",
        "circuit.2.downwind.measure.abeam.height": "700",
        "lesson.dual_minutes": "1.0",
    })  # fmt: skip
    sign_lesson(cast, lesson)
    numbers = {
        circuit.number: number
        for flown in facts_for(cast.enrolment, cast.today).lessons
        for circuit in flown.circuits
        if circuit.downwind
        for number in circuit.downwind.numbers
    }
    # By the definition of the foot: 0.3048 m.
    assert numbers[1].uncertainty == pytest.approx(19.8 / 0.3048, abs=1e-5)
    assert numbers[1].amount == pytest.approx(207.3 / 0.3048 - 700, abs=1e-5)
    assert (numbers[2].uncertainty, numbers[2].from_track) == (0, False)


def test_after_signing_a_track_stands_beside_the_record_and_changes_nothing_of_it(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)

    def told() -> tuple[Any, ...]:
        facts = facts_for(cast.enrolment, cast.today)
        verdict = assess(facts, standard_in_force(School.objects.get(), cast.today), cast.today)
        return facts, verdict, build_complete_content(cast.enrolment, cast.today)["lessons"]

    before = told()
    track = keep(cast, lesson, read(cast, lesson))
    assert kept_circuits(track)[0].reading("abeam", "height")
    assert told() == before
    assert not Measure.objects.exists()
    assert audit_records().findings == []


def signed_with_track(cast: Cast, days_ago: int = 0) -> FlightTrack:
    lesson = tapped_lesson(cast, days_ago=days_ago)
    track = create_track(cast, lesson)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson, days_ago)
    return FlightTrack.objects.get(pk=track.pk)


def sealed_text(track: FlightTrack, kind: str = "track") -> dict[str, Any]:
    text: dict[str, Any] = json.loads(Seal.objects.get(kind=kind, subject=track.uid).canonical)
    return text


def test_the_signature_seals_the_file_in_the_lesson_and_the_readings_beside_it(cast: Cast) -> None:
    track = signed_with_track(cast)
    lesson = json.loads(Seal.objects.get(kind="lesson").canonical)
    assert lesson["tracks"] == [
        {"file": "0" * 64, "form": "gpx", "method": 1, "first_at": utc_timestamp(cast.at(9)),
         "last_at": utc_timestamp(cast.at(10))}
    ]  # fmt: skip
    sealed = sealed_text(track)
    assert (sealed["lesson"], sealed["file"], sealed["student"]) == (
        str(track.lesson.uid), "0" * 64, {"name": "Dora Example", "reference": cast.dora.reference}
    )  # fmt: skip
    assert sealed["circuits"][0]["number"] == 1
    assert sealed["circuits"][0]["readings"] == [
        {"gate": "abeam", "quantity": "height", "value": 712, "error": 65, "why_not": ""}
    ]
    # Where the aircraft was is in no seal, so that it can be deleted.
    assert not [seal for seal in Seal.objects.all() if "52.0" in seal.canonical or '"lat' in seal.canonical]
    assert audit_records().findings == []


def test_a_track_of_later_has_a_seal_of_its_own_and_the_lesson_keeps_its(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    before = Seal.objects.get(kind="lesson")
    track = keep(cast, lesson, read(cast, lesson))
    assert track.after_signing
    sealed = sealed_text(track)
    assert [row["ended"] for row in sealed["circuits"]] == ["touch_and_go", "go_around", "full_stop"]
    assert sealed["by"]["name"] == "Bert Example"
    assert (Seal.objects.get(kind="lesson").canonical, "tracks" in json.loads(before.canonical)) == (
        before.canonical, False
    )  # fmt: skip
    assert audit_records().findings == []


ALTERED = {
    "a reading is bettered": (
        "UPDATE grading_flighttrack SET circuits = jsonb_set(circuits, '{0,readings,0,value}', '700')"
    ),
    "another file is named": "UPDATE grading_flighttrack SET sha256 = repeat('1', 64)",
    "other positions": "UPDATE grading_flighttrack SET positions = 'x'",
    "positions lost and a reading too": "UPDATE grading_flighttrack SET positions = '', ways = '', circuits = '[]'",
    "it is removed without a trace": "DELETE FROM grading_flighttrack",
}


@pytest.mark.parametrize("attack", ALTERED)
def test_of_a_signed_lesson_nothing_of_it_is_altered(cast: Cast, attack: str) -> None:
    signed_with_track(cast)
    with pytest.raises(DatabaseError, match="final"), transaction.atomic():
        execute_sql(ALTERED[attack])


@pytest.mark.parametrize("who", ["bert", "dora", "frida"])
def test_removed_after_signing_its_positions_go_and_its_readings_stay_sealed(cast: Cast, who: str) -> None:
    track = signed_with_track(cast)
    flight_tracks.remove_track(track=track, by=getattr(cast, who), at=cast.at(16))
    track.refresh_from_db()
    assert (bytes(track.positions), bytes(track.ways), track.has_positions) == (b"", b"", False)
    assert track.circuits[0]["readings"]
    assert (kept_tracks(track.lesson), removed_tracks(track.lesson)) == ([], [track])
    removal = sealed_text(track, "track_removed")
    assert (removal["track"], removal["by"]["reference"]) == (str(track.uid), getattr(cast, who).reference)
    assert audit_records().findings == []
    with pytest.raises(Refusal, match="removed meanwhile"):
        flight_tracks.remove_track(track=track, by=cast.bert, at=cast.at(17))
    with pytest.raises(DatabaseError, match="final"), transaction.atomic():
        FlightTrack.objects.update(removed_at=None, removed_by=None)


def test_a_file_that_was_removed_does_not_come_back(cast: Cast) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    found = read(cast, lesson)
    flight_tracks.remove_track(track=keep(cast, lesson, found), by=cast.dora, at=cast.at(16))
    with pytest.raises(Refusal, match="was removed from this lesson"):
        keep(cast, lesson, found)


def test_positions_are_kept_for_two_years_and_readings_with_the_record(cast: Cast) -> None:
    track = signed_with_track(cast, days_ago=40)
    on = track.lesson.on
    last = datetime.combine(months_after(on, 24), time(12), UTC)
    assert flight_tracks.delete_old_positions(at=last) == 0
    assert flight_tracks.delete_old_positions(at=last + timedelta(days=1)) == 1
    assert flight_tracks.delete_old_positions(at=last + timedelta(days=2)) == 0
    (kept,) = kept_tracks(track.lesson)
    assert (kept.has_positions, kept.sha256, kept_ways(kept)) == (False, track.sha256, [[]])
    reading = kept_circuits(kept)[0].reading("abeam", "height")
    assert reading is not None
    assert reading.value == 712
    assert audit_records().findings == []
    entry = JournalEntry.objects.get(what="positions of a track deleted")
    assert (entry.person_id, entry.before) == (None, {"file": track.sha256, "positions": 3600})


def test_the_chief_sets_how_long_positions_are_kept(cast: Cast) -> None:
    signed_with_track(cast, days_ago=40)
    for months in (0, 61):
        with pytest.raises(Refusal, match="1 to 60 months"):
            flight_tracks.set_track_term(months=months, by=cast.amelia, at=cast.at(9))
    with pytest.raises(Refusal, match="24 months already"):
        flight_tracks.set_track_term(months=24, by=cast.amelia, at=cast.at(9))
    for who in (cast.bert, cast.frida, cast.dora):
        with pytest.raises(Refusal, match="Only the chief instructor"):
            flight_tracks.set_track_term(months=1, by=who, at=cast.at(9))
    flight_tracks.set_track_term(months=1, by=cast.amelia, at=cast.at(9))
    assert JournalEntry.objects.get(what="time of positions set").after == {"months": 1}
    assert forget_positions(cast.at(10)) == "Flight tracks whose positions were deleted: 1."


@pytest.mark.parametrize(
    ("day", "months", "before"),
    [
        (date(2027, 1, 15), 24, date(2025, 1, 15)),
        (date(2027, 3, 31), 1, date(2027, 2, 28)),
        (date(2027, 1, 1), 1, date(2026, 12, 1)),
        (date(2028, 2, 29), 12, date(2027, 2, 28)),
    ],
)
def test_a_month_ends_on_its_last_day(day: date, months: int, before: date) -> None:
    assert months_before(day, months) == before


def months_after(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, day.day) if day.day < 29 else date(year, month + 1, 28) + timedelta(days=day.day - 28)


def test_what_is_stored_of_a_student_has_the_positions_as_gpx(cast: Cast) -> None:
    track = signed_with_track(cast)
    (row,) = collect_personal_data(cast.dora, cast.at(17))["enrolments"][0]["stored"]["flight tracks"]
    assert row["positions"].startswith('<?xml version="1.0"')
    assert '<trkpt lat="52.0000000" lon="-1.5000000"><ele>100.0</ele>' in row["positions"]
    assert row["circuits"][0]["readings"][0]["value"] == 712
    flight_tracks.remove_track(track=track, by=cast.dora, at=cast.at(16))
    (row,) = collect_personal_data(cast.dora, cast.at(17))["enrolments"][0]["stored"]["flight tracks"]
    assert row["positions"] == "deleted"


def test_readings_and_fingerprint_are_handed_over_and_no_position(cast: Cast) -> None:
    track = signed_with_track(cast)
    files = open_archive(build_package(cast.dora, cast.today, cast.at(17)).content)
    (record,) = [row for row in decode_record(files[RECORD]).records if row.kind == "track"]
    told = json.loads(record.canonical)
    assert (told["file"], told["circuits"][0]["readings"][0]["value"]) == (track.sha256, 712)
    assert not [name for name, content in files.items() if b"<trkpt" in content or b"52.0000" in content]
    assert "Flight tracks: 1, each with its readings" in files[README].decode()


def test_a_circuit_that_nobody_tapped_becomes_one_of_the_lesson_by_one_tap(cast: Cast) -> None:
    lesson = tapped_lesson(cast, "touch_and_go", "full_stop")
    track = keep(cast, lesson, read(cast, lesson))
    grade_circuit = flight_tracks.grade_circuit
    for place, by in ((1, cast.bert), (9, cast.bert), (2, cast.cleo)):
        with pytest.raises(Refusal):
            grade_circuit(lesson=lesson, track=track, place=place, by=by, at=cast.at(13))
    made = grade_circuit(lesson=lesson, track=track, place=2, by=cast.bert, at=cast.at(13))
    assert made == 3
    # The ending that the track tells, by the path of a tap; and of its numbers those that leave no doubt.
    circuit = lesson.circuits.get(number=3)
    assert circuit.ending == "go_around"
    assert Tap.objects.filter(lesson=lesson, field="circuit.3.ending", after="go_around", person=cast.bert).exists()
    measures = Measure.objects.filter(attempt__circuit=circuit)
    assert measures.exists()
    assert not measures.filter(uncertainty=None).exists()
    again = FlightTrack.objects.get()
    assert (again.uid, again.imported_at) == (track.uid, track.imported_at)
    assert [row["number"] for row in again.circuits] == [1, 3, 2]
    with pytest.raises(Refusal, match="one of the lesson already"):
        grade_circuit(lesson=lesson, track=again, place=2, by=cast.bert, at=cast.at(13))


def test_a_circuit_of_which_nothing_is_certain_is_tapped_by_hand(cast: Cast) -> None:
    lesson = tapped_lesson(cast, "touch_and_go", "full_stop")
    found = read(cast, lesson)
    found.circuits[1].update(ended="unsure", readings=[])
    track = keep(cast, lesson, found)
    with pytest.raises(Refusal, match="tells nothing certain"):
        flight_tracks.grade_circuit(lesson=lesson, track=track, place=2, by=cast.bert, at=cast.at(13))
    assert lesson.circuits.count() == 2
    assert FlightTrack.objects.get().circuits[1]["number"] is None
