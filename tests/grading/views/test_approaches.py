"""The chief's page of approaches by flight track: of a student, and of a month on one runway."""

import uuid
from datetime import timedelta

from bs4 import BeautifulSoup
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from grading.actions.flight_tracks import keep_track
from grading.exchange.flight_tracks import read_track
from grading.models import FlightTrack
from tests.cast import Cast
from tests.track_files import gpx_file, logged, tapped_lesson

PAGE = "/approaches/"
QUERIES = 9


def kept_track(cast: Cast) -> FlightTrack:
    lesson = tapped_lesson(cast)
    found = read_track(lesson, gpx_file(logged(cast)), cast.bert)
    numbers = {place: row["number"] for place, row in enumerate(found.circuits, start=1)}
    return keep_track(lesson=lesson, found=found, numbers=numbers, by=cast.bert, at=cast.at(15))


def test_all_approaches_of_a_student_and_of_a_month_lie_over_each_other(
    cast: Cast, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    client.force_login(cast.amelia)
    assert "No flight track is saved yet" in client.get(PAGE).text
    track = kept_track(cast)
    student = f"{PAGE}?student={cast.enrolment.uid}"
    shown = BeautifulSoup(client.get(student).content, "html.parser")
    assert shown.h1.get_text(" ", strip=True).startswith("3 approaches of Dora")
    plan, strips = shown.find_all("svg", class_="flown")[::2]
    assert plan["aria-label"].startswith(f"{cast.type.name}, runway 18: 3 approaches: ")
    for figure in (plan, strips):
        assert len([row for row in figure.find_all("path") if row["stroke-width"] == "1.3"]) >= 3
    table = shown.find("table", class_="flown-table")
    assert [row.find_all("td")[1].get_text(strip=True) for row in table.tbody.find_all("tr")[:3]] == [
        "touch and go", "go-around", "full stop"
    ]  # fmt: skip
    assert "±65" in table.get_text()
    month = f"{PAGE}?runway={cast.runway.pk}&month={track.lesson.on:%Y-%m}"
    assert "3 approaches on runway 18" in client.get(month).text
    for nothing in (
        f"{PAGE}?runway={cast.runway.pk}&month=1999-01",
        f"{PAGE}?student={uuid.uuid4()}",
        f"{PAGE}?month=x",
    ):
        assert "<table" not in client.get(nothing).text
    # Behind a circuit lie those before it, also of an earlier lesson.
    for place, before in ((1, 0), (3, 2)):
        text = client.get(f"/lessons/{track.lesson.uid}/tracks/{track.uid}/{place}/").text
        assert (f"{before} before it" in text) is bool(before)
    # Another track is no other question to the database.
    client.get(student)
    with django_assert_num_queries(QUERIES):
        client.get(student)
    track.pk, track.uid, track.sha256 = None, uuid.uuid4(), "2" * 64
    track.save(force_insert=True)
    with django_assert_num_queries(QUERIES):
        # Another logger in the same lesson tells of the same approaches.
        assert "3 approaches of Dora" in " ".join(client.get(student).text.split())
    track.pk, track.uid, track.sha256 = None, uuid.uuid4(), "3" * 64
    track.lesson = tapped_lesson(cast)
    track.save(force_insert=True)
    with django_assert_num_queries(QUERIES):
        assert "6 approaches of Dora" in " ".join(client.get(student).text.split())
    newest = FlightTrack.objects.latest("pk")
    newer = timedelta(days=1)
    FlightTrack.objects.filter(pk=newest.pk).delete()
    newest.pk, newest.first_at, newest.last_at = None, newest.first_at + newer, newest.last_at + newer
    newest.save(force_insert=True)
    assert "3 before it" in client.get(f"/lessons/{newest.lesson.uid}/tracks/{newest.uid}/1/").text
