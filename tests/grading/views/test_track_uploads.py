"""The page of files that wait: what each is, its lesson by a choice, progress, and one key that saves them."""

import re
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from grading.actions.track_uploads import read_upload
from grading.models import FlightTrack, TrackUpload
from grading.views import track_uploads as views
from lessons.models import Lesson
from tests.cast import Cast
from tests.track_files import create_upload, gpx_file, logged, tapped_lesson

PAGE = "/tracks/"
QUERIES = 6


def text_of(reply: Any) -> str:
    return " ".join(BeautifulSoup(reply.content, "html.parser").get_text(" ", strip=True).split())


def test_from_several_files_to_their_lessons(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast)
    client.force_login(cast.bert)
    files = [SimpleUploadedFile("morning.gpx", gpx_file(logged(cast))), SimpleUploadedFile("x.pdf", b"a letter")]
    assert client.post(PAGE, {"files": files})["Location"] == PAGE
    waiting = client.get(PAGE)
    assert "0 of 2 read, the others follow." in text_of(waiting)
    assert 'hx-trigger="every 2s"' in waiting.text
    assert "keep-key" not in waiting.text
    part = client.get(PAGE + "?tenths=0", headers={"HX-Request": "true", "HX-Target": "heard"})
    assert part.status_code == 204
    for row in TrackUpload.objects.all():
        read_upload(key=row.pk, at=cast.at(15))
    # Another visit, as after a page that was closed: all of it is there.
    read = client.get(PAGE, headers={"HX-Request": "true"})
    assert "<html" not in read.text
    assert "every 2s" not in read.text
    said = text_of(read)
    assert "3 circuits: 3 as tapped." in said
    assert "This is no flight track" in said
    assert f"lesson {lesson.number}" in said
    one = client.get(reverse("grading:read_track_upload", args=[TrackUpload.objects.get(problem="").uid]))
    assert "all endings agree" in text_of(one)
    shown = re.findall(r'name="shown" value="([^"]+)"', read.text)
    kept = client.post(reverse("grading:keep_track_uploads"), {"shown": shown}, follow=True)
    assert "1 track saved." in text_of(kept)
    assert FlightTrack.objects.get().lesson_id == lesson.pk


def test_files_that_are_too_large_together_are_refused_before_they_are_read(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(views, "MOST_TOGETHER_MB", 1)
    client.force_login(cast.bert)
    files = [SimpleUploadedFile(f"{k}.gpx", bytes([k]) * 2**19) for k in range(3)]
    assert "Together they are larger than 1 MB" in text_of(client.post(PAGE, {"files": files}))
    assert not TrackUpload.objects.exists()


def test_a_track_kept_by_its_own_page_waits_no_more(cast: Cast, client: Client) -> None:
    lesson = tapped_lesson(cast)
    client.force_login(cast.bert)
    client.post(PAGE, {"files": [SimpleUploadedFile("a.gpx", gpx_file(logged(cast)))]})
    row = TrackUpload.objects.get()
    chosen = client.post(reverse("grading:choose_track_lesson", args=[row.uid]), {"lesson": str(lesson.uid)})
    assert chosen["Location"] == PAGE
    read_upload(key=row.pk, at=cast.at(15))
    page = client.get(reverse("grading:read_track_upload", args=[row.uid]))
    found = BeautifulSoup(page.content, "html.parser").find("input", attrs={"name": "found"})["value"]
    client.post(reverse("grading:keep_flight_track", args=[lesson.uid]), {"found": found})
    assert FlightTrack.objects.exists()
    assert not TrackUpload.objects.exists()


def test_a_choice_of_nothing_is_said_and_nothing_lost(cast: Cast, client: Client) -> None:
    row = create_upload(cast, tapped_lesson(cast))
    client.force_login(cast.bert)
    for address, form in (
        (reverse("grading:choose_track_lesson", args=[row.uid]), {"lesson": "x"}),
        (reverse("grading:keep_track_uploads"), {"shown": "x y"}),
        (PAGE, {}),
    ):
        reply = client.post(address, form)
        assert reply.status_code == 422
        assert "Nothing was saved." in text_of(reply)
    assert TrackUpload.objects.get() == row


def test_the_page_asks_no_more_for_more_files(
    cast: Cast, client: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    row = create_upload(cast, tapped_lesson(cast))
    client.force_login(cast.bert)
    client.get(PAGE)
    with django_assert_num_queries(QUERIES):
        client.get(PAGE)
    other = Lesson.objects.exclude(uid=row.lesson_uid).first() or tapped_lesson(cast)
    for k in range(3):
        row.pk, row.uid, row.sha256 = None, f"00000000-0000-4000-8000-00000000000{k}", f"{k + 2}" * 64
        row.lesson_uid = other.uid
        row.save(force_insert=True)
    with django_assert_num_queries(QUERIES):
        client.get(PAGE)
