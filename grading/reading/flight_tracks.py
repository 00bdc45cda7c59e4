"""This module reads what tracks are measured against, and the tracks that were kept with a lesson."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from grading.models import FlightTrack, Measure, Tap
from grading.models.attempt import FROM_TRACK
from grading.reading.flown import pattern_in_wind
from grading.reading.grade_lines import load_grading_context
from grading.rules.track_judgement import READ_IN, judge_reading
from lessons.conditions import lesson_wind
from lessons.models import GateSet, Lesson
from lessons.published_content import gate_targets, gates_in_order
from lessons.rules.flight_track import FieldWind, GateSpot, Reading, RunwaySite, TrackSetting
from lessons.rules.flight_track.matching import TappedEnd
from lessons.rules.flight_track.packed_track import Point, unpack_readings, unpack_ways
from lessons.rules.pattern import Leg, Station, UnclosedCircuit, lay_out
from lessons.rules.scale import PART_BY_GATE_PHASE
from school.models import Aerodrome, Runway


@dataclass(frozen=True)
class KeptCircuit:
    """A measured circuit as it was kept. number: the circuit of the lesson that it is, None for none of them."""

    track: FlightTrack
    place: int
    number: int | None
    begins: datetime
    ends: datetime
    runway: str
    ended: str
    sure: float
    readings: tuple[Reading, ...]
    orbits: int
    off_pattern: bool

    def reading(self, gate: str, quantity: str) -> Reading | None:
        """Return a reading with a value, None where the track told none."""
        found = next((row for row in self.readings if (row.gate, row.quantity) == (gate, quantity)), None)
        return found if found and found.value is not None else None


def runway_places(aerodrome: Aerodrome | None = None) -> dict[Runway, RunwaySite]:
    """Return where the runways lie whose place is known, of one aerodrome or of all. One query."""
    rows = Runway.objects.exclude(threshold_latitude=None).select_related("aerodrome").order_by("aerodrome_id", "pk")
    return {row: _place(row) for row in (rows.filter(aerodrome=aerodrome) if aerodrome else rows)}


def _place(runway: Runway) -> RunwaySite:
    magnetic = runway.heading_magnetic + float(runway.aerodrome.variation_deg)
    assert runway.threshold_latitude is not None
    assert runway.threshold_longitude is not None
    return RunwaySite(
        runway.pk,
        runway.designator,
        float(runway.threshold_latitude),
        float(runway.threshold_longitude),
        magnetic if runway.heading_true is None else float(runway.heading_true),
        float(runway.length_ft),
        runway.touchdown_ft,
        runway.circuit == Runway.CircuitSide.LEFT,
    )


def gate_set_in_force(lesson: Lesson) -> GateSet | None:
    """Return the gates of the type flown on the day of a lesson. One query."""
    if lesson.aircraft is None:
        return None
    return GateSet.objects.in_force(lesson.on).filter(aircraft_type=lesson.aircraft.type_id).first()


def track_setting(lesson: Lesson, gates: GateSet, aerodrome: Aerodrome) -> TrackSetting:
    """Return what a track of a lesson is measured against."""
    flown = lesson.type_flown
    assert flown is not None
    shape, rows = gates_in_order(gates.pk)
    asked: dict[str, set[str]] = {row.code: set() for row in rows}
    for target in gate_targets(gates.pk):
        asked[target.gate.code].add(target.quantity)
    stations = [Station(row.code, Leg(row.leg), row.along_ft) for row in rows]
    try:
        track = lay_out(stations, shape)
    except UnclosedCircuit:
        track = None
    return TrackSetting(
        [GateSpot(row, frozenset(asked[row.code])) for row in stations],
        shape,
        track,
        float(flown.stall_landing_kt),
        float(aerodrome.elevation_ft),
        float(aerodrome.circuit_height_ft),
        field_wind(lesson, aerodrome),
    )


def field_wind(lesson: Lesson, aerodrome: Aerodrome) -> FieldWind | None:
    """Return the wind of a lesson in degrees true; None where it is not known or variable."""
    wind = lesson_wind(lesson)
    if wind is None or (wind.direction is None and wind.strongest_kt):
        return None
    return FieldWind((float(wind.direction or 0) + float(aerodrome.variation_deg)) % 360, float(wind.speed_kt))


def tapped_ends(lesson: Lesson, first: datetime, last: datetime) -> list[TappedEnd]:
    """Return the circuits of a lesson with the moment of the last tap in each, where that lies in the track. 2 queries.

    A lesson that was written at a desk afterwards has taps that say nothing about when a circuit was flown.
    """
    taps = Tap.objects.filter(lesson=lesson, field__startswith="circuit.", at__range=(first, last), undoes=None)
    latest: dict[int, datetime] = {}
    for field, at in taps.order_by("at").values_list("field", "at"):
        latest[int(field.split(".")[1])] = at
    return [
        TappedEnd(row.number, row.ending, latest[row.number].timestamp() if row.number in latest else None)
        for row in lesson.circuits.order_by("number")
    ]


def kept_tracks(lesson: Lesson) -> list[FlightTrack]:
    """Return the tracks kept with any version of a lesson and not removed, the oldest first. One query."""
    rows = FlightTrack.objects.filter(
        lesson__enrolment=lesson.enrolment_id, lesson__number=lesson.number, removed_at=None
    )
    return list(
        rows.select_related("lesson__enrolment", "aerodrome", "imported_by").defer("positions").order_by("imported_at")
    )


def removed_tracks(lesson: Lesson) -> list[FlightTrack]:
    """Return the tracks of any version of a lesson that somebody removed after it was signed. One query."""
    rows = FlightTrack.objects.filter(
        lesson__enrolment=lesson.enrolment_id, lesson__number=lesson.number, removed_at__isnull=False
    )
    return list(rows.select_related("removed_by").defer("positions", "ways").order_by("removed_at"))


def kept_circuits(track: FlightTrack) -> list[KeptCircuit]:
    """Return the circuits of a track in the order flown."""
    return [_kept(track, place, row) for place, row in enumerate(track.circuits, start=1)]


def entries_from_track(lesson: Lesson, track: FlightTrack, circuit: KeptCircuit) -> dict[str, str]:
    """Return the entries that its readings would be, by their field; only for numbers that nobody noted.

    A reading whose uncertainty reaches over an edge of the tolerance is none: it cannot tell inside from outside, and
    as a number of the lesson it would do so. Four queries.
    """
    assert circuit.number is not None
    measures = Measure.objects.filter(attempt__lesson=lesson, attempt__circuit__number=circuit.number)
    noted = {f"{gate}.{what}" for gate, what in measures.values_list("target__gate__code", "target__quantity")}
    pattern = pattern_in_wind(track.gate_set_id, load_grading_context(lesson))
    phases = {gate.code: gate.phase for gate in gates_in_order(track.gate_set_id)[1]}
    entries = {}
    for target in pattern.targets:
        reading = circuit.reading(target.gate, target.quantity)
        if reading is None or target.key in noted or judge_reading(reading, target).place == "unsure":
            continue
        part = PART_BY_GATE_PHASE[phases[target.gate]]
        # Whole feet, knots and degrees: more would claim what the uncertainty denies.
        entries[f"circuit.{circuit.number}.{part}.measure.{target.key}"] = (
            f"{reading.value:.0f} {READ_IN[target.quantity]} ±{reading.error:.0f} {FROM_TRACK}"
        )
    return entries


def kept_ways(track: FlightTrack) -> list[list[Point]]:
    """Return the way of each circuit: feet along, across and high, seconds since it began. Empty without positions."""
    return unpack_ways(bytes(track.ways)) if track.has_positions else [[] for _ in track.circuits]


def _kept(track: FlightTrack, place: int, row: Mapping[str, Any]) -> KeptCircuit:
    return KeptCircuit(
        track,
        place,
        row["number"],
        datetime.fromisoformat(row["begins"]),
        datetime.fromisoformat(row["ends"]),
        row["runway"],
        row["ended"],
        row["sure"],
        tuple(Reading(**reading) for reading in unpack_readings(row["readings"])),
        row["orbits"],
        row["off_pattern"],
    )
