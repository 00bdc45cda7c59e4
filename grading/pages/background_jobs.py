"""This module shows the administrator the background work: what is due, how it went, what waits, what failed."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, time

from django.db.models import Count
from procrastinate.contrib.django.models import ProcrastinateEvent, ProcrastinateJob, ProcrastinateWorker

from grading.models import JobReport
from grading.operations.tasks import DAILY_TASKS

MAX_FAILED_SHOWN = 20
HOUSEKEEPING_TASK = "take_up_again"  # each minute, and of no interest while it goes well
TASK_TITLES = {name: title for name, (title, _) in DAILY_TASKS.items()} | {
    "print_items": "Print sheets",
    "back_up": "Write the backup of the day",
    HOUSEKEEPING_TASK: "Resume the jobs of killed workers",
}


@dataclass(frozen=True)
class DailyJob:
    """A task of every day: how it last ended, if it ever did, and when it is due, in UTC."""

    title: str
    report: JobReport | None
    due: time


@dataclass(frozen=True)
class FailedJob:
    title: str
    at: datetime
    why: str


def daily_jobs() -> list[DailyJob]:
    """Return the tasks of every day. One query."""
    # DISTINCT ON takes the first row of each task in this order: its latest report.
    newest = JobReport.objects.filter(task__in=DAILY_TASKS).order_by("task", "-at").distinct("task")
    reports = {report.task: report for report in newest}
    return [DailyJob(title, reports.get(name), due) for name, (title, due) in DAILY_TASKS.items()]


def waiting_jobs() -> list[tuple[str, str, int]]:
    """Return for each task its words, "waits" or "under way", and how many. One query."""
    rows = ProcrastinateJob.objects.filter(status__in=["todo", "doing"]).exclude(task_name=HOUSEKEEPING_TASK)
    counted = rows.values_list("task_name", "status").annotate(Count("id")).order_by("task_name", "status")
    states = {"todo": "waits", "doing": "under way"}
    return [(TASK_TITLES.get(name, name), states[status], count) for name, status, count in counted]


def failed_jobs() -> list[FailedJob]:
    """Return the last jobs that failed, the newest first. Three queries."""
    jobs = list(ProcrastinateJob.objects.filter(status="failed").order_by("-id")[:MAX_FAILED_SHOWN])
    numbers = [job.id for job in jobs]
    # Oldest first: of a job that failed several times the last end stays in the dict.
    ends = dict(
        ProcrastinateEvent.objects.filter(job__in=numbers, type="failed").order_by("at").values_list("job", "at")
    )
    reasons = _failure_reasons(numbers)
    return [
        FailedJob(
            TASK_TITLES.get(job.task_name, job.task_name), ends[job.id], reasons.get(job.id, "No reason was recorded.")
        )
        for job in jobs
        # Between the two queries a job may have been cleared or tried again.
        if job.id in ends
    ]


def count_live_workers(since: datetime) -> int:
    """Count the workers that gave a sign of life since a time. One query."""
    found: int = ProcrastinateWorker.objects.filter(last_heartbeat__gte=since).count()
    return found


def _failure_reasons(numbers: Iterable[int]) -> dict[int, str]:
    reports = JobReport.objects.filter(job__in=numbers, failed=True).order_by("at")
    return dict(reports.values_list("job", "words"))
