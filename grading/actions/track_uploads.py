"""Import files of flight tracks, many at once: read in the background, kept with their lessons by one confirmation.

Nothing is kept with a lesson before it. What waits belongs to the person who uploaded it, and to nobody else.
"""

import hashlib
import logging
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import InterfaceError, OperationalError, transaction
from django.db.models import Q
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob

from grading.actions.flight_tracks import keep_track, may_keep_track
from grading.exchange.flight_files.fixes import MAX_BYTES
from grading.exchange.flight_tracks import (
    AllReadersBusy,
    TrackFile,
    TrackFound,
    find_field,
    measure_for_lesson,
    read_track_file,
)
from grading.models import TrackUpload
from grading.reading.track_lessons import days_of, lessons_on, lessons_that_fit
from lessons.models import Lesson
from school import journal
from school.errors import Refusal
from school.formats import write_day
from school.models import Person
from school.permissions import can_see_all_students

log = logging.getLogger(__name__)

READ_TASK = "read_track_upload"
READ_PRIORITY = 5  # a person waits for it, and for a print run nobody does
MOST_WAITING = 30
WAITS_FOR = timedelta(days=7)
BUSY_WAIT_SECONDS = 20
UNFORESEEN = "It was read and could not be measured: export it again, or tell the administrator."


def may_upload_tracks(person: Person) -> bool:
    """Return whether a person may upload tracks of several lessons: the instructors, the chief, the office."""
    return can_see_all_students(person)


@transaction.atomic
def save_track_uploads(*, files: Sequence[tuple[str, bytes]], by: Person, at: datetime) -> list[TrackUpload]:
    """Store files, each with the job that reads it. One that waits already is not stored again."""
    if not may_upload_tracks(by):
        raise Refusal("Flight tracks are uploaded by an instructor, the chief instructor or the administrator.")
    if not files:
        raise Refusal("Choose one or more files of a logger.")
    large = [name for name, content in files if len(content) > MAX_BYTES]
    if large:
        raise Refusal(f"{large[0]} is larger than {MAX_BYTES // 2**20} MB: cut it to the lesson.")
    # One post of a person at a time: both would count what waits, and store the same file.
    Person.objects.select_for_update().get(pk=by.pk)
    waiting = set(TrackUpload.objects.filter(uploaded_by=by).values_list("sha256", flat=True))
    new = {hashlib.sha256(content).hexdigest(): (name, content) for name, content in files}
    new = {digest: file for digest, file in new.items() if digest not in waiting}
    if len(waiting) + len(new) > MOST_WAITING:
        raise Refusal(f"At most {MOST_WAITING} files wait at a time: save or discard those that wait first.")
    made = [
        TrackUpload.objects.create(
            name=name[:200] or "unnamed",
            sha256=digest,
            content=zlib.compress(content),
            uploaded_at=at,
            uploaded_by=by,
        )
        for digest, (name, content) in new.items()
    ]
    for upload in made:
        # Without its name: it may say who flew, and the journal has no end.
        after = {"file": upload.sha256}
        journal.record(by=by, at=at, what="track file uploaded", subject=upload, after=after, derived=False)
        _defer(upload)
    return made


@transaction.atomic
def read_upload(*, key: int, at: datetime) -> str:
    """Read one file and find its lesson; return what was done. AllReadersBusy where it must wait for its turn."""
    rows = TrackUpload.objects.select_for_update(of=("self",), skip_locked=True).select_related("uploaded_by")
    upload = rows.filter(pk=key, read_at=None).first()
    if upload is None:
        return "It was read already, or is gone."
    try:
        # A savepoint: after a fault of the database inside it what went wrong can still be saved.
        with transaction.atomic():
            _read(upload)
    except (AllReadersBusy, OperationalError, InterfaceError):
        # Nothing is wrong with the file: it is tried again.
        raise
    except Refusal as refusal:
        upload.problem = str(refusal)[:500]
    # Whatever it is: a file that no reader foresaw must not wait for ever, and the others are not held up by it.
    except Exception as fault:
        log.exception("track file %s", upload.uid)
        upload.problem = f"{UNFORESEEN} ({type(fault).__name__})"
    upload.read_at = at
    upload.save(update_fields=["told", "found", "lesson_uid", "problem", "read_at"])
    return upload.problem or "Read and measured."


def _read(upload: TrackUpload) -> None:
    by = upload.uploaded_by
    file = read_track_file(zlib.decompress(bytes(upload.content)))
    upload.told = {
        "form": file.form,
        "fixes": len(file.fixes.seconds),
        "left_out": file.left_out,
        "first_at": file.first_at.isoformat(),
        "last_at": file.last_at.isoformat(),
        "step_seconds": file.step_seconds,
        "by_pressure": file.fixes.by_pressure,
    }
    lesson = _find_lesson(file, by) if upload.lesson_uid is None else _chosen_lesson(upload.lesson_uid, by)
    upload.lesson_uid = lesson.uid
    upload.found = asdict(measure_for_lesson(lesson, file, by))


def _find_lesson(file: TrackFile, by: Person) -> Lesson:
    aerodrome, _ = find_field(file.fixes)
    days = days_of(file.first_at, file.last_at)
    fitting = lessons_that_fit(lessons_on(by, days), file.first_at, file.last_at, aerodrome.pk)
    if not fitting:
        on = write_day(max(days))
        raise Refusal(f"No lesson of {on} at {aerodrome} fits its times. Choose one, or begin the lesson first.")
    if len(fitting) > 1:
        raise Refusal(f"{len(fitting)} lessons fit its times: choose the one that it is of.")
    return fitting[0]


def _chosen_lesson(uid: UUID, by: Person) -> Lesson:
    lesson = Lesson.objects.for_pages().filter(uid=uid).first()
    if lesson is None or not may_keep_track(by, lesson):
        raise Refusal("The lesson that was chosen is not there any more: choose another one.")
    return lesson


@transaction.atomic
def choose_lesson(*, upload: TrackUpload, lesson: Lesson, by: Person, at: datetime) -> None:
    """Say of which lesson a file is; it is measured again, in the wind and at the gates of that lesson."""
    upload = lock_track_upload(upload, by)
    if not may_keep_track(by, lesson):
        raise Refusal("A track is kept by the instructor of the lesson, the chief instructor or the administrator.")
    upload.lesson_uid, upload.read_at, upload.found, upload.problem = lesson.uid, None, None, ""
    upload.save(update_fields=["lesson_uid", "read_at", "found", "problem"])
    _defer(upload)


@transaction.atomic
def read_again(*, by: Person) -> int:
    """Queue the files of a person that nothing reads; return their number."""
    rows = [row for row in TrackUpload.objects.filter(uploaded_by=by, read_at=None).only("pk") if not has_job(row)]
    for row in rows:
        _defer(row)
    return len(rows)


@transaction.atomic
def keep_uploads(*, shown: Sequence[tuple[str, str]], by: Person, at: datetime) -> tuple[int, int]:
    """Keep the tracks that a person was shown, (uid, uid of the lesson) each; return how many, and how many not.

    One that cannot be kept says why, and waits.
    """
    rows = TrackUpload.objects.select_for_update(of=("self",)).filter(uploaded_by=by, uid__in=[uid for uid, _ in shown])
    lessons_shown = dict(shown)
    kept = failed = 0
    for upload in rows.order_by("pk"):
        if upload.found is None or lessons_shown[str(upload.uid)] != upload.found["lesson"]:
            failed += 1
            continue
        try:
            # A savepoint: the others are kept all the same.
            with transaction.atomic():
                _keep(upload, by, at)
            kept += 1
        except Refusal as refusal:
            upload.problem, upload.found, failed = str(refusal)[:500], None, failed + 1
            upload.save(update_fields=["problem", "found"])
    return kept, failed


def _keep(upload: TrackUpload, by: Person, at: datetime) -> None:
    found = TrackFound(**_plain(upload.found))
    numbers = {place: row["number"] for place, row in enumerate(found.circuits, start=1)}
    keep_track(lesson=_chosen_lesson(UUID(found.lesson), by), found=found, numbers=numbers, by=by, at=at)
    upload.delete()


def _plain(found: Any) -> dict[str, Any]:
    values: dict[str, Any] = found
    return values


@transaction.atomic
def discard_track_upload(*, upload: TrackUpload, by: Person, at: datetime) -> None:
    """Delete a file that waits."""
    upload = lock_track_upload(upload, by)
    before = {"file": upload.sha256}
    journal.record(by=by, at=at, what="track file discarded", subject=upload, before=before, derived=False)
    upload.delete()


@transaction.atomic
def remove_old_uploads(*, at: datetime) -> int:
    """Delete the files that nobody confirmed in time; return their number."""
    rows = TrackUpload.objects.select_for_update(skip_locked=True).filter(uploaded_at__lt=at - WAITS_FOR)
    old = list(rows.defer("content"))
    for upload in old:
        before = {"file": upload.sha256}
        journal.record(by=None, at=at, what="track file discarded", subject=upload, before=before, derived=False)
        upload.delete()
    return len(old)


def forget_file(*, sha256: str, by: Person) -> None:
    """Delete the file that a person had waiting, once its track is kept."""
    TrackUpload.objects.filter(uploaded_by=by, sha256=sha256).delete()


def lock_track_upload(upload: TrackUpload, by: Person) -> TrackUpload:
    """Lock a file of a person until the end of the transaction; refuse one that is kept or discarded meanwhile."""
    locked = TrackUpload.objects.select_for_update(of=("self",)).filter(pk=upload.pk, uploaded_by=by).first()
    if locked is None:
        raise Refusal("This file has since been saved or discarded.")
    return locked


def has_job(upload: TrackUpload) -> bool:
    """Return whether the queue has a job that reads a file, waiting or under way."""
    jobs = ProcrastinateJob.objects.filter(Q(status="todo") | Q(status="doing"), task_name=READ_TASK)
    found: bool = jobs.filter(args__upload=upload.pk).exists()
    return found


def read_later(key: int) -> None:
    """Queue a file again, for when a reader may be free."""
    task = app.configure_task(
        READ_TASK, priority=READ_PRIORITY, allow_unknown=False, schedule_in={"seconds": BUSY_WAIT_SECONDS}
    )
    task.defer(upload=key)


def _defer(upload: TrackUpload) -> None:
    app.configure_task(READ_TASK, priority=READ_PRIORITY, allow_unknown=False).defer(upload=upload.pk)
