"""Two hours of touch-and-goes, one position a second: what it costs to measure, to store and to look at."""

import time
from collections import Counter

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from grading.actions import flight_tracks
from grading.exchange import flight_tracks as exchange
from grading.models import FlightTrack
from lessons.rules.flight_track import measure_flight
from tests.cast import Cast
from tests.track_files import gpx_file, logged, tapped_lesson

ENDINGS = ("touch_and_go",) * 32 + ("full_stop",)
STORED_SQL = (
    "SELECT pg_column_size(positions) + pg_column_size(ways) + pg_column_size(circuits) FROM grading_flighttrack"
)


def test_two_hours_are_measured_in_two_seconds_and_stored_within_forty_kilobytes(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = tapped_lesson(cast, *ENDINGS)
    noted = logged(cast, *ENDINGS)
    assert noted.seconds[-1] - noted.seconds[0] > 7000
    took = []

    def timed(*given):  # type: ignore[no-untyped-def]
        begin = time.process_time()
        measured = measure_flight(*given)
        took.append(time.process_time() - begin)
        return measured

    monkeypatch.setattr(exchange, "measure_flight", timed)
    found = exchange.read_track(lesson, gpx_file(noted), cast.bert)
    ended = Counter(row["ended"] for row in found.circuits)
    # By a telephone that wanders, without one full stop in between: of 32 one may be told wrongly.
    assert (sum(ended.values()), ended["full_stop"], ended["touch_and_go"] >= 31) == (33, 1, True)
    # Of the processor, on whatever core: measured 0.3 s.
    assert took[0] < 2
    numbers = {place: row["number"] for place, row in enumerate(found.circuits, start=1)}
    track = flight_tracks.keep_track(lesson=lesson, found=found, numbers=numbers, by=cast.bert, at=cast.at(15))
    with connection.cursor() as cursor:
        cursor.execute(STORED_SQL)
        (stored,) = cursor.fetchone()
    assert stored < 40_000
    client.force_login(cast.bert)
    address = reverse("grading:track_circuit", args=[lesson.uid, track.uid, len(ENDINGS)])
    assert client.get(address).status_code == 200
    assert FlightTrack.objects.count() == 1
