"""Files of flight tracks, many at once: each finds its lesson, and nothing is kept before one confirmation."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from procrastinate import JobContext
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob
from procrastinate.jobs import Job

from grading.actions import track_uploads
from grading.actions.track_uploads import (
    choose_lesson,
    discard_track_upload,
    keep_uploads,
    read_again,
    read_upload,
    remove_old_uploads,
    save_track_uploads,
)
from grading.exchange import flight_tracks
from grading.exchange.flight_tracks import AllReadersBusy
from grading.models import FlightTrack, JobReport, TrackUpload
from grading.operations import tasks
from lessons.models import Lesson
from school.errors import Refusal
from school.file_reader import ReadersBusy
from tests.cast import Cast
from tests.track_files import gpx_file, logged, tapped_lesson


def timed_lesson(cast: Cast, hour: int) -> Lesson:
    lesson = tapped_lesson(cast)
    blocks = {"off_blocks": cast.at(hour), "on_blocks": cast.at(hour + 1)}
    Lesson.objects.filter(pk=lesson.pk).update(**blocks)
    return lesson


def upload(cast: Cast, *files: bytes, by: Any = None) -> list[TrackUpload]:
    named = [(f"{place}.gpx", content) for place, content in enumerate(files)]
    return save_track_uploads(files=named, by=by or cast.bert, at=cast.at(14))


def read_all(cast: Cast) -> list[TrackUpload]:
    for row in TrackUpload.objects.filter(read_at=None):
        read_upload(key=row.pk, at=cast.at(15))
    return list(TrackUpload.objects.order_by("pk"))


def run_job(row: TrackUpload) -> None:
    job = Job(
        id=99, status="doing", queue="default", priority=0, lock=None, queueing_lock=None, attempts=0,
        task_name="read_track_upload",
    )  # fmt: skip
    context = JobContext(app=app, job=job, start_timestamp=0, abort_reason=lambda: None)
    tasks.read_track_upload(context, upload=row.pk)


def shown(rows: list[TrackUpload]) -> list[tuple[str, str]]:
    return [(str(row.uid), row.found["lesson"]) for row in rows if row.found]


def test_each_file_of_a_day_finds_its_lesson_and_is_kept_by_one_confirmation(cast: Cast) -> None:
    first, second = timed_lesson(cast, 9), timed_lesson(cast, 12)
    files = [gpx_file(logged(cast, hour=12)), b"a letter", gpx_file(logged(cast, hour=9))]
    made = upload(cast, *files, files[0])
    # The same file chosen twice is one; each has its job.
    assert len(made) == 3
    assert upload(cast, files[2]) == []
    assert ProcrastinateJob.objects.filter(task_name="read_track_upload").count() == 3
    rows = read_all(cast)
    assert [row.lesson_uid for row in rows] == [second.uid, None, first.uid]
    assert rows[1].problem.startswith("This is no flight track")
    assert not FlightTrack.objects.exists()
    assert [row["number"] for row in rows[0].found["circuits"]] == [1, 2, 3]
    assert keep_uploads(shown=shown(rows), by=cast.bert, at=cast.at(16)) == (2, 0)
    assert set(FlightTrack.objects.values_list("lesson", flat=True)) == {first.pk, second.pk}
    # What failed waits with its sentence; of the rest no file is left.
    assert [row.name for row in TrackUpload.objects.all()] == ["1.gpx"]
    # The same file again: it is told, and nothing is lost.
    upload(cast, files[0])
    assert keep_uploads(shown=shown(read_all(cast)), by=cast.bert, at=cast.at(17)) == (0, 1)
    assert TrackUpload.objects.get(name="0.gpx").problem == "This file is kept with this lesson already."


def test_where_no_lesson_or_more_than_one_fits_a_person_chooses(cast: Cast) -> None:
    twin, other = timed_lesson(cast, 9), timed_lesson(cast, 9)
    timed_lesson(cast, 14)
    (row,) = upload(cast, gpx_file(logged(cast, hour=9))) and read_all(cast)
    assert (row.found, row.problem) == (None, "2 lessons fit its times: choose the one that it is of.")
    choose_lesson(upload=row, lesson=other, by=cast.bert, at=cast.at(15))
    (row,) = read_all(cast)
    assert (row.problem, row.found["lesson"]) == ("", str(other.uid))
    # What was shown is kept, and not what was chosen afterwards.
    assert keep_uploads(shown=[(str(row.uid), str(twin.uid))], by=cast.bert, at=cast.at(16)) == (0, 1)
    assert not FlightTrack.objects.exists()
    discard_track_upload(upload=row, by=cast.bert, at=cast.at(16))
    with pytest.raises(Refusal, match="since been saved or discarded"):
        discard_track_upload(upload=row, by=cast.bert, at=cast.at(16))
    upload(cast, gpx_file(logged(cast, hour=9, days_ago=2)))
    assert read_all(cast)[0].problem.startswith("No lesson of ")
    # Of somebody else's lessons nothing is offered.
    (mine,) = upload(cast, gpx_file(logged(cast, hour=14)), by=cast.cleo)
    read_upload(key=mine.pk, at=cast.at(15))
    mine.refresh_from_db()
    assert mine.problem.startswith("No lesson of ")
    assert not TrackUpload.objects.exclude(lesson_uid=None).exists()


def test_busy_readers_lose_nothing_and_what_nobody_saved_goes(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    (row,) = upload(cast, gpx_file(logged(cast)))

    def busy(*_: Any, **__: Any) -> None:
        raise ReadersBusy

    monkeypatch.setattr(flight_tracks, "read_file", busy)
    with pytest.raises(AllReadersBusy):
        read_upload(key=row.pk, at=cast.at(15))
    assert TrackUpload.objects.get(read_at=None) == row
    # Its job is no failure, and another one follows.
    run_job(row)
    assert JobReport.objects.get().words == "All readers were busy: it is read later."
    assert not JobReport.objects.filter(failed=True).exists()
    assert ProcrastinateJob.objects.filter(args__upload=row.pk).count() == 2
    assert read_again(by=cast.bert) == 0
    ProcrastinateJob.objects.filter(args__upload=row.pk).delete()
    assert read_again(by=cast.bert) == 1
    assert "gone" in read_upload(key=987_654, at=cast.at(15))
    assert remove_old_uploads(at=cast.at(14) + timedelta(days=6)) == 0
    assert remove_old_uploads(at=cast.at(15) + timedelta(days=7)) == 1
    assert not TrackUpload.objects.exists()


def test_a_fault_of_the_measuring_is_said_and_holds_up_nobody(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    timed_lesson(cast, 9)
    upload(cast, gpx_file(logged(cast, hour=9)), b"a letter")

    def broken(*_: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(track_uploads, "measure_for_lesson", broken)
    problems = [row.problem for row in read_all(cast)]
    assert problems[0].endswith("tell the administrator. (ZeroDivisionError)")
    assert problems[1].startswith("This is no flight track")


def test_what_is_refused_stores_nothing(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    for by, files, why in (
        (cast.dora, [b"x"], "uploaded by an instructor"),
        (cast.bert, [], "one or more files"),
        (cast.bert, [b"x" * (16 * 2**20 + 1)], "larger than 16 MB"),
        (cast.bert, [bytes([k]) for k in range(31)], "At most 30 files"),
    ):
        with pytest.raises(Refusal, match=why):
            upload(cast, *files, by=by)
    assert not TrackUpload.objects.exists()
    monkeypatch.setattr(track_uploads, "MOST_WAITING", 1)
    assert keep_uploads(shown=[(str(uuid4()), "")], by=cast.bert, at=cast.at()) == (0, 0)
