"""Read a flight track that somebody uploads for a lesson, and measure it. Nothing is stored.

What was read travels to the page and back as a signed text, so that what is kept is what was shown, and a file that
nobody decides to keep leaves nothing behind.
"""

import base64
import hashlib
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from django.core import signing

from grading.exchange.flight_files.fixes import MAX_BYTES
from grading.reading.flight_tracks import gate_set_in_force, runway_places, tapped_ends, track_setting
from lessons.models import Lesson
from lessons.rules.flight_track import MeasuredCircuit, MeasuredFlight, RunwaySite, measure_flight
from lessons.rules.flight_track.flight import Fixes
from lessons.rules.flight_track.matching import MeasuredEnd, match_circuits
from lessons.rules.flight_track.packed_track import pack_positions, pack_ways
from lessons.rules.flight_track.place import from_threshold
from school.current import school_zone
from school.days import end_of, start_of
from school.errors import Refusal
from school.file_reader import PATIENCE_SECONDS, Limits, ReadersBusy, UnreadableFile, read_file
from school.formats import write_day
from school.models import Aerodrome, Person, Runway

READER = "grading.exchange.flight_files.read:read_flight_file"
LIMITS = Limits(cpu_seconds=6, memory_megabytes=300)
BUSY = "Other files are being read at the moment. Try again in a minute; nothing was kept."
NEAR_M, KEPT_WITHIN_M, KEPT_AROUND_S = 5556.0, 11_112.0, 120.0  # 3 NM, 6 NM (1 NM = 1,852 m)
SLACK = timedelta(minutes=15)
# By pressure only where nearly all of it is: a file that changes its source in flight has two zeros.
PRESSURE_SHARE = 0.98
SALT, SHOWN_FOR = "flight track read", timedelta(hours=12)


@dataclass(frozen=True)
class TrackFound:
    """A track that was read and measured for a lesson, as plain values. circuits: as FlightTrack keeps them."""

    lesson: str
    person: int
    sha256: str
    form: str
    fixes: int
    left_out: int
    first_at: str
    last_at: str
    step_seconds: float
    by_pressure: bool
    aerodrome: int
    gate_set: int
    wind_from: int | None
    wind_speed_kt: int | None
    positions: str
    circuits: list[dict[str, Any]]
    ways: str


@dataclass(frozen=True)
class TrackFile:
    """What is in a file, before anybody knows of which lesson it is. sha256: of the file as it came."""

    sha256: str
    form: str
    left_out: int
    fixes: Fixes

    @property
    def first_at(self) -> datetime:
        return _moment(self.fixes.seconds[0])

    @property
    def last_at(self) -> datetime:
        return _moment(self.fixes.seconds[-1])

    @property
    def step_seconds(self) -> float:
        """Return the seconds between two positions, in the middle of all."""
        return round(float(np.median(np.diff(self.fixes.seconds))), 2)


class AllReadersBusy(Refusal):
    """Nothing is wrong with the file: it could be read in a minute."""


def read_track(lesson: Lesson, content: bytes, by: Person) -> TrackFound:
    """Read and measure a file for a lesson; Refusal with a sentence where it is no track of it."""
    return measure_for_lesson(lesson, read_track_file(content), by)


def read_track_file(content: bytes) -> TrackFile:
    """Read a file in a process with limits; Refusal with a sentence where it is no track."""
    told = _read(content)
    return TrackFile(hashlib.sha256(content).hexdigest(), told["form"], told["left_out"], _fixes(told["fixes"]))


def measure_for_lesson(lesson: Lesson, file: TrackFile, by: Person) -> TrackFound:
    """Measure what was read for a lesson; Refusal with a sentence where it is no track of it."""
    gates = gate_set_in_force(lesson)
    if gates is None:
        raise Refusal("Choose the aircraft of this lesson first: its gates are what a track is measured at.")
    fixes = file.fixes
    _refuse_other_day(lesson, fixes)
    aerodrome, places = find_field(fixes)
    setting = track_setting(lesson, gates, aerodrome)
    measured = measure_flight(fixes, list(places.values()), setting)
    _refuse_nothing(measured, fixes)
    kept = _cut(fixes, measured, next(iter(places.values())))
    designators = {place.key: runway.designator for runway, place in places.items()}
    wind = setting.wind
    return TrackFound(
        str(lesson.uid),
        by.pk,
        file.sha256,
        file.form,
        len(fixes.seconds),
        file.left_out,
        file.first_at.isoformat(),
        file.last_at.isoformat(),
        file.step_seconds,
        fixes.by_pressure,
        aerodrome.pk,
        gates.pk,
        None if wind is None else round(wind.from_true),
        None if wind is None else round(wind.speed_kt),
        base64.b64encode(pack_positions(kept)).decode(),
        _circuits(lesson, measured, designators, fixes),
        base64.b64encode(pack_ways([row.way for row in measured.circuits])).decode(),
    )


def sign_found(found: TrackFound) -> str:
    """Return what was read as a text that only this program can have written."""
    return signing.dumps(asdict(found), salt=SALT, compress=True)


def open_found(text: str, lesson: Lesson, by: Person) -> TrackFound:
    """Return what `sign_found` wrote for this lesson and this person; Refusal for anything else."""
    try:
        found = TrackFound(**signing.loads(text, salt=SALT, max_age=SHOWN_FOR))
    except signing.BadSignature:
        raise Refusal("What was read is not here any more: choose the file again.") from None
    if (found.lesson, found.person) != (str(lesson.uid), by.pk):
        raise Refusal("What was read belongs to another lesson or person: choose the file again.")
    return found


def _read(content: bytes) -> dict[str, Any]:
    if len(content) > MAX_BYTES:
        raise Refusal(f"This file is larger than {MAX_BYTES // 2**20} MB: cut it to the lesson.")
    try:
        told: dict[str, Any] = read_file(READER, content, limits=LIMITS, patience=PATIENCE_SECONDS)
    except ReadersBusy:
        raise AllReadersBusy(BUSY) from None
    except UnreadableFile as bad:
        raise Refusal(str(bad)) from bad
    if told["problem"]:
        raise Refusal(told["problem"])
    return told


def _fixes(rows: list[list[float | None]]) -> Fixes:
    """Return the fixes with one kind of height: by pressure, which an altimeter flies by, where the file has it."""
    by_pressure = sum(row[4] is not None for row in rows) >= PRESSURE_SHARE * len(rows)
    column = 4 if by_pressure else 3
    usable = [row for row in rows if row[column] is not None]
    if len(usable) < PRESSURE_SHARE * len(rows):
        raise Refusal("This file has no heights, and without them no landing is told from a go-around.")
    seconds, latitude, longitude, *_ = np.array([row[:3] for row in usable], dtype=float).T
    return Fixes(seconds, latitude, longitude, np.array([row[column] for row in usable], dtype=float), by_pressure)


def _refuse_other_day(lesson: Lesson, fixes: Fixes) -> None:
    zone = school_zone()
    begin = lesson.off_blocks - SLACK if lesson.off_blocks else start_of(lesson.on, zone)
    end = lesson.on_blocks + SLACK if lesson.on_blocks else end_of(lesson.on, zone)
    first, last = _moment(fixes.seconds[0]), _moment(fixes.seconds[-1])
    if first < end and last > begin:
        return
    day, on = write_day(first.astimezone(zone).date()), write_day(lesson.on)
    if day != on:
        raise Refusal(f"This track is of {day}, the lesson of {on}.")
    raise Refusal(
        f"This track runs from {first:%H:%M} to {last:%H:%M} UTC, the lesson from {begin + SLACK:%H:%M} to"
        f" {end - SLACK:%H:%M} UTC: check the block times, or the clock of the logger."
    )


def find_field(fixes: Fixes) -> tuple[Aerodrome, dict[Runway, RunwaySite]]:
    """Return the aerodrome round which most of the track lies, with its placed runways: also one away from home."""
    places = runway_places()
    if not places:
        raise Refusal("No runway has its place yet: type its threshold from the published chart, under Places.")
    near = {runway: _near(fixes, place, NEAR_M) for runway, place in places.items()}
    best = max(near, key=lambda runway: near[runway].sum())
    if not near[best].any():
        raise Refusal("No position of this track lies within 3 NM of a runway whose place is known here.")
    return best.aerodrome, {runway: row for runway, row in places.items() if runway.aerodrome_id == best.aerodrome_id}


def _near(fixes: Fixes, place: RunwaySite, metres: float) -> np.ndarray[Any, np.dtype[np.bool_]]:
    x, y = from_threshold(fixes.latitude, fixes.longitude, place)
    return np.hypot(x, y) < metres


def _refuse_nothing(measured: MeasuredFlight, fixes: Fixes) -> None:
    if measured.circuits:
        return
    step = float(np.median(np.diff(fixes.seconds)))
    if step > 6.5:
        raise Refusal(f"There are {step:.0f} s between two positions, too many to measure: let it note one a second.")
    raise Refusal("No circuit was found in this track: nothing runs round to the runway and over it again.")


def _cut(fixes: Fixes, measured: MeasuredFlight, place: RunwaySite) -> Fixes:
    """Leave out the way to the hangar and home: the flying alone is evidence, and a track shows where a person is."""
    assert measured.begins is not None
    assert measured.ends is not None
    within = _near(fixes, place, KEPT_WITHIN_M)
    within &= (fixes.seconds >= measured.begins - KEPT_AROUND_S) & (fixes.seconds <= measured.ends + KEPT_AROUND_S)
    return Fixes(
        fixes.seconds[within],
        fixes.latitude[within],
        fixes.longitude[within],
        fixes.height[within],
        fixes.by_pressure,
    )


def _circuits(
    lesson: Lesson, measured: MeasuredFlight, designators: dict[int, str], fixes: Fixes
) -> list[dict[str, Any]]:
    tapped = tapped_ends(lesson, _moment(fixes.seconds[0]), _moment(fixes.seconds[-1]) + SLACK)
    ends = [MeasuredEnd(row.ended, row.ends) for row in measured.circuits]
    numbers = match_circuits(tapped, ends)
    return [
        _plain(row, number, designators[row.runway]) for row, number in zip(measured.circuits, numbers, strict=True)
    ]


def _plain(row: MeasuredCircuit, number: int | None, designator: str) -> dict[str, Any]:
    return {
        "number": number,
        "begins": _moment(row.begins).isoformat(),
        "ends": _moment(row.ends).isoformat(),
        "runway": designator,
        "ended": row.ended,
        "sure": row.sure,
        "readings": [asdict(reading) for reading in row.readings],
        "orbits": row.orbits,
        "off_pattern": row.off_pattern,
    }


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(round(float(seconds)), UTC)
