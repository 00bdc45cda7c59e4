"""This module gathers the pages of flight tracks: what was read, what was kept with a lesson, and one circuit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404

from grading.actions.flight_tracks import UNSURE, may_keep_track, may_remove_track
from grading.exchange.flight_tracks import TrackFound, sign_found
from grading.models import FlightTrack
from grading.pages.flown import with_unit
from grading.pages.flown_pictures import Drawn, ObstacleSpot
from grading.pages.track_picture import draw_heights, draw_track
from grading.pages.track_strips import LaidCircuit, draw_strips, lay_circuit
from grading.reading.flight_tracks import (
    KeptCircuit,
    entries_from_track,
    kept_circuits,
    kept_tracks,
    kept_ways,
    removed_tracks,
)
from grading.reading.flown import EARLIER_CIRCUITS, FlownLesson, pattern_in_wind
from grading.reading.track_approaches import circuit_numbers, earlier_circuits
from grading.reading.track_terms import track_months
from grading.rules.flown import FlownCircuit, NumberTarget, Pattern
from grading.rules.track_judgement import TrackNumber
from lessons.access import can_write_lesson
from lessons.models import Circuit, Lesson
from lessons.rules.flight_track import Reading
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.scale import Ending
from school.formats import write_clock, write_day, write_number, write_wind
from school.models import Aerodrome, Person, Runway
from school.permissions import can_decide

ENDED_WORDS = {"unsure": "not told: a touch and go or a go-around"}
# Two turns less than one to the circuit's side.
OTHER_SIDE = -2


@dataclass(frozen=True)
class TrackLine:
    """One circuit of a track beside the circuit of the lesson that it is. number: "" where it is none of them."""

    place: int
    begins: datetime
    ends: datetime
    runway: str
    ended: str
    number: int | None
    tapped: str
    differs: bool
    remark: str


@dataclass(frozen=True)
class ReadingLine:
    """A reading in the table: gate, quantity, target, what the track told with its uncertainty, what was noted."""

    gate: str
    quantity: str
    target: str
    told: str
    uncertainty: str
    place: str
    judged: str
    noted: str
    why_not: str


def tracks_context(lesson: Lesson, reader: Person) -> dict[str, Any]:
    """Return the tracks kept with a lesson, and whether the reader may keep another one."""
    endings = _endings(lesson)
    return {
        "lesson": lesson,
        "tracks": [(track, summary_of(track), _lines_of(track, endings)) for track in kept_tracks(lesson)],
        "may_keep": may_keep_track(reader, lesson),
        "may_compare": can_decide(reader),
        "may_remove": may_remove_track(reader, lesson),
        "removed": removed_tracks(lesson),
        "months": track_months(),
    }


def read_context(lesson: Lesson, found: TrackFound) -> dict[str, Any]:
    """Return what was read of a file that is not kept yet, and its circuits beside those of the lesson."""
    endings = _endings(lesson)
    aerodrome = Aerodrome.objects.get(pk=found.aerodrome)
    lines = [
        _line(place, row, endings, datetime.fromisoformat(row["begins"]), datetime.fromisoformat(row["ends"]))
        for place, row in enumerate(found.circuits, start=1)
    ]
    matched = {row.number for row in lines}
    return {
        "lesson": lesson,
        "found": sign_found(found),
        "read": _read_words(found),
        "aerodrome": aerodrome,
        "wind": wind_words(found.wind_from, found.wind_speed_kt),
        "lines": lines,
        "numbers": [(number, Ending(ended).label) for number, ended in endings.items()],
        "missing": [number for number in endings if number not in matched],
        "agree": not any(row.differs or row.number is None for row in lines) and set(endings) <= matched,
    }


def circuit_context(lesson: Lesson, track_uid: Any, place: int, reader: Person) -> dict[str, Any]:
    """Return the readings and the picture of one circuit of a track; Http404 for one that is not there."""
    track = next((row for row in kept_tracks(lesson) if row.uid == track_uid), None)
    circuit = next((row for row in kept_circuits(track) if row.place == place), None) if track else None
    if track is None or circuit is None:
        raise Http404("There is no such circuit of a track in this lesson.")
    flown = FlownLesson(lesson)
    pattern = pattern_in_wind(track.gate_set_id, flown.grading_context)
    noted = flown.circuit(circuit.number) if circuit.number else None
    numbers, ways = circuit_numbers(circuit, pattern), kept_ways(track)
    way, earlier = ways[place - 1], earlier_circuits(track, circuit, EARLIER_CIRCUITS)
    runway = runway_of(track, circuit)
    said = sentence(circuit, numbers, pattern)
    out, approach = _strips(track, circuit, way, earlier, runway, pattern, numbers, said) if way else (None, None)
    return {
        "lesson": lesson,
        "track": track,
        "circuit": circuit,
        "ended": ended_words(circuit.ended),
        "tapped": Ending(noted.ending).label if noted else "",
        "differs": noted is not None and differ(noted.ending, circuit.ended),
        "rows": _reading_lines(circuit, pattern, numbers, noted),
        "picture": draw_track(track, circuit, runway, way, pattern, numbers, [line for _, line in earlier])
        if way
        else "",
        "earlier": len(earlier),
        "out": out,
        "approach": approach,
        # Along the way itself, where it cannot be laid along the target's.
        "heights": draw_heights(track, circuit, way, pattern, numbers) if way and not approach else None,
        "sentence": said,
        "places": list(range(1, len(track.circuits) + 1)),
        "summary": summary_of(track),
        "remark": _remark(track.circuits[place - 1]),
        "wind": wind_words(track.wind_from, track.wind_speed_kt),
        "may_compare": can_decide(reader),
        "may_remove": may_remove_track(reader, lesson),
        "may_grade": circuit.number is None and can_write_lesson(reader, lesson),
        "next_number": len(flown.circuits) + 1,
        "unsure": circuit.ended == UNSURE,
        "to_enter": len(entries_from_track(lesson, track, circuit))
        if noted and can_write_lesson(reader, lesson)
        else 0,
    }


def runway_of(track: FlightTrack, circuit: KeptCircuit) -> Runway | None:
    """Return the runway that a circuit was flown on, None where it has another name now. One query."""
    runways = track.aerodrome.runways.filter(designator=circuit.runway)
    found: Runway | None = runways.select_related("aerodrome").prefetch_related("obstacles").first()
    return found


def _strips(
    track: FlightTrack,
    circuit: KeptCircuit,
    way: Sequence[Point],
    earlier: Sequence[tuple[KeptCircuit, Sequence[Point]]],
    runway: Runway | None,
    pattern: Pattern,
    numbers: Mapping[str, TrackNumber],
    said: str,
) -> tuple[Drawn | None, Drawn | None]:
    """Return the strips of the way out and of the approach; None for what the track does not tell."""
    if runway is None:
        return None, None
    shown = LaidCircuit(lay_circuit(track, circuit, way, runway), numbers)
    before = [LaidCircuit(lay_circuit(row.track, row, line, runway), {}) for row, line in earlier]
    stops = [
        ObstacleSpot(row.name, row.before_ft + runway.touchdown_ft, row.side_ft, row.height_ft)
        for row in runway.obstacles.all()
    ]
    name = f"Circuit {circuit.place} of the track: {said}"
    return (
        draw_strips(pattern, shown, before, f"{name} The way out, from the lift-off.", out=True),
        draw_strips(pattern, shown, before, f"{name} The approach.", stops, out=False),
    )


def ended_words(ended: str) -> str:
    return ENDED_WORDS.get(ended) or Ending(ended).label


def summary_of(track: FlightTrack) -> str:
    """Return '7,214 positions on 12 Jun 2026, 09:02 to 11:02 UTC, one every second, heights by pressure'."""
    return summary_words(
        track.fixes, track.first_at, track.last_at, float(track.step_seconds), by_pressure=track.by_pressure
    )


def wind_words(wind_from: int | None, speed: int | None) -> str:
    """Return the wind as it was used, or that none was."""
    return "" if speed is None else write_wind(wind_from, speed, None, "true")


def sentence(circuit: KeptCircuit, numbers: Mapping[str, TrackNumber], pattern: Pattern) -> str:
    """Return what the track tells of a circuit: the gates outside beyond its uncertainty, and how it ended."""
    outside = [row for row in pattern.targets if row.key in numbers and numbers[row.key].place == "outside"]
    gates = pattern.by_code
    words = [f"{row.quantity} {gates[row.gate].phrase}" for row in outside]
    told = [row for row in numbers.values() if row.place]
    if words:
        first = f"outside beyond its uncertainty: {', '.join(words)}"
    elif told:
        first = "nothing outside beyond its uncertainty"
    else:
        first = "no gate could be measured"
    return f"{first}. Ended: {ended_words(circuit.ended)}."


def _read_words(found: TrackFound) -> str:
    words = summary_words(
        found.fixes,
        datetime.fromisoformat(found.first_at),
        datetime.fromisoformat(found.last_at),
        found.step_seconds,
        by_pressure=found.by_pressure,
    )
    left_out = f"; {write_number(found.left_out)} lines were left out" if found.left_out else ""
    return f"{found.form.upper()}: {words}{left_out}."


def summary_words(fixes: int, first: datetime, last: datetime, step: float, *, by_pressure: bool) -> str:
    """Return the positions of a file, with their span and the kind of their heights."""
    every = "one a second" if step == 1 else f"one every {write_number(step)} s"
    heights = "heights by pressure" if by_pressure else "heights from a satellite receiver"
    between = f"{write_day(first.date())}, {write_clock(first)} to {write_clock(last)} UTC"
    return f"{write_number(fixes)} positions on {between}, {every}, {heights}"


def _endings(lesson: Lesson) -> dict[int, str]:
    return dict(Circuit.objects.filter(lesson=lesson).order_by("number").values_list("number", "ending"))


def _lines_of(track: FlightTrack, endings: Mapping[int, str]) -> list[TrackLine]:
    return [
        _line(row.place, raw, endings, row.begins, row.ends)
        for row, raw in zip(kept_circuits(track), track.circuits, strict=True)
    ]


def _line(
    place: int, row: Mapping[str, Any], endings: Mapping[int, str], begins: datetime, ends: datetime
) -> TrackLine:
    number = row["number"] if row["number"] in endings else None
    tapped = endings[number] if number is not None else ""
    return TrackLine(
        place,
        begins,
        ends,
        row["runway"],
        ended_words(row["ended"]),
        number,
        Ending(tapped).label if tapped else "",
        bool(tapped) and differ(tapped, row["ended"]),
        _remark(row),
    )


def differ(tapped: str, measured: str) -> bool:
    """Return whether a track contradicts a tap; control that was taken is no ending that a track could tell."""
    return measured != "unsure" and tapped != Ending.TOOK_CONTROL and tapped != measured


def _remark(row: Mapping[str, Any]) -> str:
    if row["off_pattern"]:
        return "left the circuit: not measured at the gates"
    if row["orbits"] == OTHER_SIDE:
        return "flown to the other side of the runway: not measured between takeoff and final"
    if row["orbits"]:
        return "with an orbit: not measured between takeoff and final"
    return ""


def _reading_lines(
    circuit: KeptCircuit, pattern: Pattern, numbers: Mapping[str, TrackNumber], noted: FlownCircuit | None
) -> list[ReadingLine]:
    told = {(row.gate, row.quantity): row for row in circuit.readings}
    return [
        _reading_line(target, pattern, numbers.get(target.key), told[target.gate, target.quantity], noted)
        for target in pattern.targets
        if (target.gate, target.quantity) in told
    ]


def _reading_line(
    target: NumberTarget, pattern: Pattern, number: TrackNumber | None, reading: Reading, noted: FlownCircuit | None
) -> ReadingLine:
    gate = pattern.by_code[target.gate]
    over, under = write_number(target.over), write_number(target.under)
    seen = noted.values.get(target.key) if noted else None
    return ReadingLine(
        f"{gate.number} {gate.name}",
        target.quantity,
        f"{with_unit(target.value, target.unit)} +{over} \u2212{under}",
        with_unit(round(number.value), target.unit) if number else "",
        f"±{write_number(round(number.uncertainty))}" if number else "",
        number.place if number else "",
        number.words if number else "",
        "" if seen is None else with_unit(seen, target.unit),
        reading.why_not,
    )
