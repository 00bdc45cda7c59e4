"""This module shows the files of flight tracks that wait for a person: what each is, its lesson, what failed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from procrastinate.contrib.django.models import ProcrastinateJob

from grading.actions.track_uploads import MOST_WAITING, READ_TASK, WAITS_FOR
from grading.models import TrackUpload
from grading.pages.flight_tracks import differ, summary_words
from grading.reading.track_lessons import days_of, lessons_on
from lessons.models import Circuit, Lesson
from school.formats import write_clock, write_day
from school.models import Person

PROGRESS_STEPS = 10


@dataclass(frozen=True)
class UploadLine:
    """A file that waits. lessons: those that it may be of, with their words; circuits: what would be kept, in words."""

    upload: TrackUpload
    is_read: bool
    summary: str
    lesson: Lesson | None
    lessons: Sequence[tuple[UUID, str]]
    circuits: str

    @property
    def can_keep(self) -> bool:
        return self.is_read and self.upload.found is not None and self.lesson is not None

    @property
    def shown(self) -> str:
        """Return what a confirmation sends, so that only what was shown is kept."""
        return f"{self.upload.uid} {self.lesson.uid if self.lesson else ''}"


@dataclass(frozen=True)
class UploadProgress:
    """How many of the files that wait are read. is_running: whether the queue has a job for the others."""

    total: int
    read: int
    is_running: bool

    @property
    def finished(self) -> bool:
        return self.read == self.total

    @property
    def goes_on(self) -> bool:
        """Return whether the page is worth loading again: what is chosen on it meanwhile would be lost."""
        return not self.finished and self.is_running

    @property
    def tenths(self) -> int:
        return PROGRESS_STEPS * self.read // max(self.total, 1)

    @property
    def words(self) -> str:
        if self.finished:
            return f"{self.read} of {self.total} read."
        if not self.is_running:
            return f"{self.read} of {self.total} read. Nothing works on the other {self.total - self.read}."
        return f"{self.read} of {self.total} read, the others follow."


def uploads_context(person: Person) -> dict[str, Any]:
    """Return the files of a person that wait, in the order of their times; the same few queries for any number."""
    rows = list(TrackUpload.objects.filter(uploaded_by=person).defer("content").order_by("uploaded_at", "pk"))
    days = {day for row in rows for day in _days(row)}
    lessons = {row.uid: row for row in lessons_on(person, days)} if days else {}
    chosen = {row.lesson_uid for row in rows if row.lesson_uid} - set(lessons)
    lessons |= {row.uid: row for row in Lesson.objects.for_pages().filter(uid__in=chosen)} if chosen else {}
    endings = _endings([row for row in lessons.values() if row.uid in {upload.lesson_uid for upload in rows}])
    lines = [_line(row, lessons, endings) for row in sorted(rows, key=lambda row: (_first(row), row.pk))]
    ready = [line for line in lines if line.can_keep]
    return {
        "lines": lines,
        "ready": ready,
        "progress": _progress(rows),
        "most": MOST_WAITING,
        "days": WAITS_FOR.days,
        "students": len({line.lesson.enrolment_id for line in ready if line.lesson}),
    }


def _progress(rows: Sequence[TrackUpload]) -> UploadProgress:
    unread = [row.pk for row in rows if row.read_at is None]
    jobs = ProcrastinateJob.objects.filter(task_name=READ_TASK, status__in=["todo", "doing"])
    running = bool(unread) and jobs.filter(args__upload__in=unread).exists()
    return UploadProgress(len(rows), len(rows) - len(unread), running)


def _first(row: TrackUpload) -> str:
    return str(row.told["first_at"]) if row.told else "~"


def _days(row: TrackUpload) -> set[date]:
    if not row.told:
        return set()
    return days_of(datetime.fromisoformat(row.told["first_at"]), datetime.fromisoformat(row.told["last_at"]))


def _line(row: TrackUpload, lessons: Mapping[UUID, Lesson], endings: Mapping[int, Mapping[int, str]]) -> UploadLine:
    lesson = lessons.get(row.lesson_uid) if row.lesson_uid else None
    days = _days(row)
    fitting = [one for one in lessons.values() if one.on in days or one is lesson]
    circuits = circuit_words(row.found["circuits"], endings.get(lesson.pk, {})) if row.found and lesson else ""
    choices = [(one.uid, lesson_words(one)) for one in fitting]
    return UploadLine(row, row.read_at is not None, _summary(row), lesson, choices, circuits)


def _summary(row: TrackUpload) -> str:
    if not row.told:
        return ""
    told = row.told
    words = summary_words(
        told["fixes"],
        datetime.fromisoformat(told["first_at"]),
        datetime.fromisoformat(told["last_at"]),
        told["step_seconds"],
        by_pressure=told["by_pressure"],
    )
    return f"{told['form'].upper()}: {words}"


def lesson_words(lesson: Lesson) -> str:
    """Return 'Ines Duarte, lesson 12, 12 Jun 2026, 13:05 to 14:10 UTC, QQ-TPA'."""
    between = ""
    if lesson.off_blocks and lesson.on_blocks:
        between = f", {write_clock(lesson.off_blocks)} to {write_clock(lesson.on_blocks)} UTC"
    registration = f", {lesson.aircraft.registration}" if lesson.aircraft else ""
    return f"{lesson.enrolment.student.name}, lesson {lesson.number}, {write_day(lesson.on)}{between}{registration}"


def circuit_words(circuits: Sequence[Mapping[str, Any]], endings: Mapping[int, str]) -> str:
    """Return how the circuits of a track lie beside those of its lesson: '6 circuits: 5 agree, 1 differs'."""
    numbers = [row["number"] for row in circuits if row["number"] in endings]
    differing = [row for row in circuits if row["number"] in endings and differ(endings[row["number"]], row["ended"])]
    new, missing = len(circuits) - len(numbers), len(set(endings) - set(numbers))
    parts = [
        f"{len(numbers) - len(differing)} as tapped" if len(numbers) > len(differing) else "",
        f"{len(differing)} that end{'s' if len(differing) == 1 else ''} otherwise" if differing else "",
        f"{new} that nobody tapped" if new else "",
        f"{missing} of the lesson not in it" if missing else "",
    ]
    many = f"{len(circuits)} circuit{'' if len(circuits) == 1 else 's'}"
    return f"{many}: {', '.join(part for part in parts if part)}"


def _endings(lessons: Sequence[Lesson]) -> dict[int, dict[int, str]]:
    found: dict[int, dict[int, str]] = {row.pk: {} for row in lessons}
    for lesson, number, ending in Circuit.objects.filter(lesson__in=lessons).values_list(
        "lesson_id", "number", "ending"
    ):
        found[lesson][number] = ending
    return found
