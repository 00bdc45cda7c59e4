"""The pages of flight tracks: from the file to the picture, what is refused, and what it costs to look."""

import re
from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from grading.actions.flight_tracks import delete_old_positions
from grading.exchange.flight_files.read import read_flight_file
from grading.models import FlightTrack
from lessons.models import Lesson
from tests.cast import Cast
from tests.factories import record_entries, sign_lesson
from tests.track_files import create_track, gpx_file, logged, tapped_lesson

QUERIES = 8


def page(reply: Any) -> BeautifulSoup:
    return BeautifulSoup(reply.content, "html.parser")


def post_file(client: Client, lesson: Lesson, content: bytes) -> Any:
    file = SimpleUploadedFile("whatever.bin", content)
    return client.post(reverse("grading:read_flight_track", args=[lesson.uid]), {"file": file})


def form_of(reply: Any) -> dict[str, str]:
    """Return what the page of a file that was read would send."""
    form = page(reply).find("form", action=re.compile("tracks/save"))
    sent = {"found": form.find("input", attrs={"name": "found"})["value"]}
    for select in form.find_all("select"):
        chosen = select.find("option", selected=True)
        sent[select["name"]] = chosen["value"] if chosen else ""
    return sent


def test_from_the_file_to_the_picture(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast)
    client.force_login(cast.bert)
    read = post_file(client, lesson, gpx_file(logged(cast)))
    text = page(read).get_text(" ", strip=True)
    assert "one a second, heights from a satellite receiver" in text
    assert "all endings agree" in text
    assert not FlightTrack.objects.exists()
    sent = form_of(read)
    assert [sent[f"circuit.{k}"] for k in (1, 2, 3)] == ["1", "2", "3"]
    kept = client.post(reverse("grading:keep_flight_track", args=[lesson.uid]), sent)
    track = FlightTrack.objects.get()
    # To the picture at once: from the file to it are five taps.
    assert kept["Location"] == reverse("grading:track_circuit", args=[lesson.uid, track.uid, 1])
    shown = client.get(kept["Location"])
    drawn = page(shown).find("svg", class_="flown")
    assert "the way flown, solid, over the target, dotted" in drawn["aria-label"]
    rows = [
        [cell.get_text(" ", strip=True) for cell in row.find_all(["th", "td"])] for row in page(shown).find_all("tr")
    ]
    abeam = next(row for row in rows if row[0].endswith("Abeam the point") and row[1] == "height")
    assert re.fullmatch(r"\d{3} ft ±65", abeam[3])
    assert abeam[5] == "not noted"


def test_what_differs_is_shown_and_what_was_tapped_counts(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast, "touch_and_go", "touch_and_go", "full_stop")
    client.force_login(cast.bert)
    read = post_file(client, lesson, gpx_file(logged(cast)))
    text = page(read).get_text(" ", strip=True)
    assert "differs: what was tapped counts" in text
    assert "all endings agree" not in text
    client.post(reverse("grading:keep_flight_track", args=[lesson.uid]), form_of(read))
    assert list(lesson.circuits.order_by("number").values_list("ending", flat=True)) == [
        "touch_and_go", "touch_and_go", "full_stop"
    ]  # fmt: skip
    text = page(client.get(reverse("grading:flight_tracks", args=[lesson.uid]))).get_text(" ", strip=True)
    assert "differs: what was tapped counts" in text


@pytest.mark.parametrize("content", [b"", b"a letter", b"<gpx><trk>"])
def test_a_file_that_is_no_track_is_said_above_the_form(cast: Cast, client: Client, content: bytes) -> None:
    lesson = tapped_lesson(cast)
    client.force_login(cast.bert)
    reply = post_file(client, lesson, content)
    assert reply.status_code == 422
    said = page(reply).find(class_="errors").get_text(" ", strip=True)
    assert said.endswith("Nothing was saved.")


def test_what_was_not_read_here_is_not_kept(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast)
    client.force_login(cast.bert)
    reply = client.post(reverse("grading:keep_flight_track", args=[lesson.uid]), {"found": "eyJhIjoxfQ:x:y"})
    assert reply.status_code == 422
    assert "choose the file again" in reply.text


def test_a_student_sees_the_track_of_a_signed_lesson_and_may_remove_it(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    sign_lesson(cast, lesson)
    track = create_track(cast, lesson)
    client.force_login(cast.dora)
    shown = page(client.get(reverse("grading:flight_tracks", args=[lesson.uid])))
    assert shown.find("input", type="file") is None
    assert client.post(reverse("grading:remove_flight_track", args=[lesson.uid, track.uid])).status_code == 302
    again = page(client.get(reverse("grading:flight_tracks", args=[lesson.uid]))).get_text(" ", strip=True)
    assert "was removed by Dora Example" in again
    for name in ("flight_track_file", "track_circuit"):
        more = [1] if name == "track_circuit" else []
        assert client.get(reverse(f"grading:{name}", args=[lesson.uid, track.uid, *more])).status_code == 404


def test_without_its_positions_a_track_shows_its_readings_and_no_picture(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast, days_ago=5)
    track = create_track(cast, lesson)
    delete_old_positions(at=cast.at(9) + timedelta(days=800))
    client.force_login(cast.bert)
    shown = page(client.get(reverse("grading:track_circuit", args=[lesson.uid, track.uid, 1])))
    assert "712 ft" in shown.get_text(" ", strip=True)
    assert shown.find("svg", class_="flown") is None
    kept = page(client.get(reverse("grading:flight_tracks", args=[lesson.uid]))).get_text(" ", strip=True)
    assert "Its positions were deleted, as they are 24 months after a lesson" in kept
    assert client.get(reverse("grading:flight_track_file", args=[lesson.uid, track.uid])).status_code == 404


def test_the_chief_sets_the_months_on_the_page_of_retention(cast: Cast, client: Client) -> None:
    create_track(cast, tapped_lesson(cast, days_ago=40))
    client.force_login(cast.frida)
    assert page(client.get(reverse("grading:retention"))).find("input", attrs={"name": "months"}) is None
    client.force_login(cast.amelia)
    refused = client.post(reverse("grading:set_track_term"), {"months": "99"})
    assert (refused.status_code, "1 to 60 months, not for 99. Nothing was saved." in refused.text) == (422, True)
    assert client.post(reverse("grading:set_track_term"), {"months": "1"}).status_code == 302
    text = page(client.get(reverse("grading:retention"))).get_text(" ", strip=True)
    assert re.search(r"are kept for 1 month after its lesson.*Of 1 track the time is over", text, re.DOTALL)


def test_pages_ask_the_database_no_more_for_more_tracks(
    cast: Cast, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    lesson = tapped_lesson(cast)
    create_track(cast, lesson)
    client.force_login(cast.bert)
    address = reverse("grading:flight_tracks", args=[lesson.uid])
    client.get(address)
    with django_assert_num_queries(QUERIES):
        client.get(address)
    track = FlightTrack.objects.get()
    for k in range(3):
        track.pk, track.uid, track.sha256 = None, f"00000000-0000-4000-8000-00000000000{k}", f"{k + 1}" * 64
        track.save(force_insert=True)
    with django_assert_num_queries(QUERIES):
        client.get(address)


def test_the_positions_are_handed_out_as_a_track_that_is_read_again(cast: Cast, client: Client) -> None:
    lesson, noted = tapped_lesson(cast), logged(cast)
    client.force_login(cast.bert)
    read = post_file(client, lesson, gpx_file(noted))
    client.post(reverse("grading:keep_flight_track", args=[lesson.uid]), form_of(read))
    reply = client.get(reverse("grading:flight_track_file", args=[lesson.uid, FlightTrack.objects.get().uid]))
    assert reply["Content-Type"] == "application/gpx+xml"
    told = read_flight_file(reply.content)
    assert (told["problem"], told["form"], told["left_out"]) == ("", "gpx", 0)
    at, latitude, longitude, height, _ = told["fixes"][100]
    place = int(noted.seconds.searchsorted(at))
    assert (latitude, longitude) == pytest.approx((noted.latitude[place], noted.longitude[place]), abs=1e-6)
    assert height == pytest.approx(noted.height[place], abs=0.11)
