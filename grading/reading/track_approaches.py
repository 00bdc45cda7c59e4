"""This module reads the approaches that flight tracks hold: of one student, or of a month on one runway."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.db.models.functions import TruncMonth

from grading.models import FlightTrack
from grading.reading.flight_tracks import KeptCircuit, kept_circuits, kept_ways
from grading.reading.flown import pattern_in_wind
from grading.reading.grade_lines import GradingContext
from grading.rules.flown import Pattern
from grading.rules.track_judgement import TrackNumber, judge_reading
from lessons.conditions import lesson_gusts
from lessons.models import Enrolment
from lessons.rules.flight_track.packed_track import Point
from lessons.rules.units import DisplayUnits
from school.models import Runway

MOST_TRACKS, MOST_APPROACHES = 40, 120
# One that was removed, or whose positions are gone after their time, can be laid over no other.
HAS_WAYS = Q(removed_at=None) & ~Q(ways=b"")
# Two lessons hold more circuits than are drawn behind one.
MOST_BEFORE = 2


@dataclass(frozen=True)
class Approach:
    """One approach by a track: its circuit with the way, and its numbers by the targets in the wind of its lesson."""

    track: FlightTrack
    circuit: KeptCircuit
    way: Sequence[Point]
    numbers: dict[str, TrackNumber]


def approaches_of(enrolment: Enrolment, units: DisplayUnits) -> list[Approach]:
    """Return the approaches of a student by tracks, the newest tracks of them, the oldest first. One query."""
    return _approaches(Q(lesson__enrolment=enrolment), units)


def approaches_on(runway: Runway, month: date, units: DisplayUnits) -> list[Approach]:
    """Return the approaches of a month on one runway by tracks, the oldest first. One query."""
    begins = month.replace(day=1)
    ends = begins.replace(year=begins.year + begins.month // 12, month=begins.month % 12 + 1)
    where = Q(lesson__on__gte=begins, lesson__on__lt=ends, aerodrome=runway.aerodrome_id)
    return [row for row in _approaches(where, units) if row.circuit.runway == runway.designator]


def students_with_tracks() -> list[Enrolment]:
    """Return the students of whom there is a track. One query."""
    rows = Enrolment.objects.filter(
        pk__in=FlightTrack.objects.filter(HAS_WAYS).values("lesson__enrolment")
    ).select_related("student")
    return list(rows.order_by("student__family_name", "student__given_name", "pk"))


def months_with_tracks() -> list[date]:
    """Return the months with a track, the newest first. One query."""
    months = (
        FlightTrack.objects.filter(HAS_WAYS).annotate(month=TruncMonth("lesson__on")).values_list("month", flat=True)
    )
    return list(months.order_by("-month").distinct())


def runways_with_tracks() -> list[Runway]:
    """Return the runways of the aerodromes with a track, with their obstacles. Two queries."""
    rows = Runway.objects.filter(aerodrome__in=FlightTrack.objects.filter(HAS_WAYS).values("aerodrome"))
    return list(
        rows.exclude(threshold_latitude=None)
        .select_related("aerodrome")
        .prefetch_related("obstacles")
        .order_by("aerodrome__name", "designator", "pk")
    )


def _approaches(where: Q, units: DisplayUnits) -> list[Approach]:
    rows = (
        FlightTrack.objects.filter(HAS_WAYS, where)
        .select_related("aerodrome", "lesson__enrolment__student")
        .defer("positions")
    )
    tracks = list(rows.order_by("-first_at", "-pk")[:MOST_TRACKS])[::-1]
    found, taken = list[Approach](), _Once()
    for track in tracks:
        pattern = pattern_in_wind(track.gate_set_id, GradingContext(wind=lesson_gusts(track.lesson), units=units))
        for circuit, way in zip(kept_circuits(track), kept_ways(track), strict=True):
            # What left the circuit, or was flown with an orbit, is no approach along the target's way.
            if taken.add(circuit) and not circuit.off_pattern and not circuit.orbits:
                found.append(Approach(track, circuit, way, circuit_numbers(circuit, pattern)))
    return found[-MOST_APPROACHES:]


def earlier_circuits(track: FlightTrack, circuit: KeptCircuit, most: int) -> list[tuple[KeptCircuit, list[Point]]]:
    """Return the last circuits of the student before one, on its runway and by its gates, the oldest first.

    One query, and none where the track itself has as many before it.
    """
    found = [row for row in _before(track, circuit.runway) if row[0].place < circuit.place]
    if len(found) < most:
        rows = FlightTrack.objects.filter(
            HAS_WAYS,
            lesson__enrolment=track.lesson.enrolment_id,
            first_at__lt=track.first_at,
            gate_set=track.gate_set_id,
            aerodrome=track.aerodrome_id,
        ).exclude(lesson__number=track.lesson.number)
        older = rows.select_related("aerodrome", "lesson").defer("positions").order_by("-first_at", "-pk")[:MOST_BEFORE]
        found = [*(row for one in reversed(older) for row in _before(one, circuit.runway)), *found]
    taken = _Once()
    return [row for row in found if taken.add(row[0])][-most:]


def _before(track: FlightTrack, runway: str) -> list[tuple[KeptCircuit, list[Point]]]:
    rows = zip(kept_circuits(track), kept_ways(track), strict=True)
    return [(row, way) for row, way in rows if row.runway == runway and not row.off_pattern]


class _Once:
    """The circuits that were told of: of two loggers in one lesson one counts."""

    def __init__(self) -> None:
        self.taken = set[tuple[int, int, str, int]]()

    def add(self, circuit: KeptCircuit) -> bool:
        """Take a circuit and return whether none of the same lesson and runway ended within about a minute of it."""
        # In any version of the lesson.
        lesson, minute = circuit.track.lesson, int(circuit.ends.timestamp() // 60)
        which = lesson.enrolment_id, lesson.number, circuit.runway
        new = not any((*which, minute + away) in self.taken for away in (-1, 0, 1))
        self.taken.add((*which, minute))
        return new


def circuit_numbers(circuit: KeptCircuit, pattern: Pattern) -> dict[str, TrackNumber]:
    """Return the readings of a circuit that have a target, by its key, in the unit that the school reads."""
    found = {}
    for target in pattern.targets:
        reading = circuit.reading(target.gate, target.quantity)
        if reading is not None:
            found[target.key] = judge_reading(reading, target)
    return found
