"""This module shows how far a print run is, in numbers and words, and the students to choose for one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q
from procrastinate.contrib.django.models import ProcrastinateJob

from grading.actions.print_runs import PRINT_TASK
from grading.models import PrintRun, PrintRunItem
from lessons.models import Enrolment

PACE_SHEETS = 20  # sheets from which the pace is taken
MAX_STUDENTS_LISTED = 40
PROGRESS_STEPS = 10  # what is read aloud changes with each tenth


@dataclass(frozen=True)
class PrintRunProgress:
    """The numbers of a run. `pace` is the recent time a sheet, None before two are printed."""

    total: int
    printed: int
    failed: int
    left_out: int
    pace: timedelta | None
    is_running: bool

    @property
    def waiting(self) -> int:
        return self.total - self.printed - self.failed - self.left_out

    @property
    def finished(self) -> bool:
        return self.waiting == 0

    @property
    def tenths(self) -> int:
        return PROGRESS_STEPS * (self.total - self.waiting) // self.total

    @property
    def words(self) -> str:
        """Return a sentence such as "137 of 500 printed, about 2 minutes left"."""
        sentence = f"{self.printed} of {self.total} printed"
        if self.failed:
            sentence += f", {self.failed} could not be"
        if self.left_out:
            return f"{sentence}, {self.left_out} left out because the run was cancelled."
        if self.finished:
            return f"{sentence}."
        if not self.is_running:
            return f"{sentence}. Nothing works on the other {self.waiting}."
        if self.pace:
            return f"{sentence}, {time_left_words(self.pace * self.waiting)}."
        return f"{sentence}." if self.printed else f"{sentence}, waiting for the first."


def run_progress(run: PrintRun, at: datetime) -> PrintRunProgress:
    """Return the progress of a run with its counts. Two queries, one when it has ended."""
    waiting = run.total - run.printed - run.failed - run.left_out  # type: ignore[attr-defined]
    recent = list(
        PrintRunItem.objects.filter(run=run, sheet__isnull=False)
        .order_by("-sheet__printed_at")
        .values_list("sheet__printed_at", flat=True)[:PACE_SHEETS]
        if waiting
        else ()
    )
    return PrintRunProgress(
        total=run.total,  # type: ignore[attr-defined]
        printed=run.printed,  # type: ignore[attr-defined]
        failed=run.failed,  # type: ignore[attr-defined]
        left_out=run.left_out,  # type: ignore[attr-defined]
        # Up to now and not up to the last sheet: the pace of a run that has stopped gets slower at each look.
        pace=(at - recent[-1]) / len(recent) if len(recent) > 1 else None,
        # Items may wait while no job is left for them: the page says so instead of waiting for ever.
        is_running=not waiting or has_job(run),
    )


def has_job(run: PrintRun) -> bool:
    """Return whether the queue has a job of this run, waiting or under way."""
    jobs = ProcrastinateJob.objects.filter(task_name=PRINT_TASK, args__run=run.pk)
    found: bool = jobs.filter(status__in=["todo", "doing"]).exists()
    return found


def time_left_words(left: timedelta) -> str:
    minutes = round(left.total_seconds() / 60)
    if left < timedelta(seconds=45):
        return "less than a minute left"
    return f"about {minutes} minute{'' if minutes == 1 else 's'} left"


def failed_items(run: PrintRun) -> list[PrintRunItem]:
    failed = PrintRunItem.objects.filter(run=run).exclude(problem="")
    return list(failed.select_related("enrolment__student").order_by("position"))


def search_students(words: str, picked: Sequence[Enrolment]) -> tuple[list[Enrolment], int]:
    """Return students whose name or number has every word, without those chosen, and how many more there are.

    Two queries.
    """
    found = Enrolment.objects.for_pages().exclude(pk__in=[row.pk for row in picked])
    for word in words.split():
        named = Q(student__family_name__icontains=word) | Q(student__given_name__icontains=word)
        found = found.filter(named | Q(student__reference__icontains=word))
    count = found.count()
    shown = found.order_by("student__family_name", "student__given_name", "student__reference", "pk")[
        :MAX_STUDENTS_LISTED
    ]
    return list(shown), max(0, count - MAX_STUDENTS_LISTED)
