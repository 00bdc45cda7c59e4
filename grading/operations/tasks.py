"""Define what workers do in the background. A task reads the clock and passes the time on; nothing below reads it.

A worker is `manage.py procrastinate worker`, in any number of processes on any number of machines. How a job ended is
in a JobReport, because the queue stores no reasons.
"""

from collections.abc import Callable
from datetime import time, timedelta

from asgiref.sync import sync_to_async
from django.conf import settings
from django.utils import timezone
from procrastinate import App, JobContext, RetryStrategy
from procrastinate.contrib.django import app
from procrastinate.exceptions import JobAborted
from procrastinate.jobs import Job, Status

from grading.actions import print_runs, track_uploads
from grading.exchange.flight_tracks import AllReadersBusy
from grading.models import JobReport, PrintRun
from grading.operations import daily
from school.current import school_day

MAX_ATTEMPTS = 5  # of a job whose worker was killed or whose database was away
ITEMS_PER_JOB = 25  # then others have their turn
REPORT_RETENTION_DAYS = 30  # of jobs that have ended, and of their reports

# Task -> what it does, and when in UTC. Without DAILY_BY_WORKER the commands are left to cron.
DAILY_TASKS = {
    "check_records": ("Check every record against its seal", time(1, 10)),
    "derive_verdicts": ("Derive the verdict of every student", time(1, 20)),
    "forget_positions": ("Delete the positions of old flight tracks", time(1, 30)),
    "clear_old_jobs": (f"Delete jobs that ended more than {REPORT_RETENTION_DAYS} days ago", time(1, 40)),
    "clear_track_uploads": ("Delete files of flight tracks that nobody saved in time", time(1, 45)),
    "clear_sessions": ("Clear expired sessions and counters", time(1, 50)),
    "send_reminders": ("Send reminders of documents and releases that expire soon", time(6, 0)),
}
BACKUP_CRON = "35 * * * *"  # each hour it is looked whether one is due (daily.BACKUP_INTERVAL)


@app.task(name=print_runs.PRINT_TASK, pass_context=True, retry=RetryStrategy(max_attempts=MAX_ATTEMPTS, wait=1))
def print_items(context: JobContext, run: int) -> None:
    """Print the waiting items of a run one by one, up to a share per job; the rest becomes a job of its own."""

    def work() -> str:
        print_run = PrintRun.objects.select_related("asked_by").get(pk=run)
        # Each item is a transaction of its own, so that a killed worker loses one sheet at most.
        for done in range(ITEMS_PER_JOB):
            if context.should_abort():
                raise JobAborted
            if print_runs.print_next_item(run=print_run, at=timezone.now()) is None:
                return f"{done} printed or tried, nothing is left."
        print_runs.defer_next_job(print_run)
        return f"{ITEMS_PER_JOB} printed or tried, the next job goes on."

    _run_and_report(context, work)


@app.task(name=track_uploads.READ_TASK, pass_context=True, retry=RetryStrategy(max_attempts=MAX_ATTEMPTS, wait=5))
def read_track_upload(context: JobContext, upload: int) -> None:
    """Read one file of a flight track and find its lesson; while all readers are busy, another job does it later."""

    def work() -> str:
        try:
            return track_uploads.read_upload(key=upload, at=timezone.now())
        except AllReadersBusy:
            track_uploads.read_later(upload)
            return "All readers were busy: it is read later."

    _run_and_report(context, work)


# One at a time in the queue: due every minute, they would pile up while no worker runs.
@app.task(name="take_up_again", pass_context=True, queueing_lock="take_up_again")
async def retry_stalled_jobs(context: JobContext, timestamp: int) -> None:
    """Queue the jobs of killed workers again, recognised by a missing heartbeat; after some tries a job has failed."""
    manager = context.app.job_manager
    for job in await manager.get_stalled_jobs(seconds_since_heartbeat=settings.WORKER_TIMEOUT):
        if job.task_name == retry_stalled_jobs.name:  # this one does its work
            await manager.finish_job(job, Status.ABORTED, delete_job=False)
        # A job that kills its worker would otherwise do so for ever.
        elif job.attempts < MAX_ATTEMPTS:
            await manager.retry_job(job)
        else:
            await manager.finish_job(job, Status.FAILED, delete_job=False)
            await sync_to_async(_save_report)(job, "Its worker was killed each time.", failed=True)


@app.task(name="derive_verdicts", pass_context=True)
def derive_verdicts(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.derive_verdicts(school_day(timezone.now())))


@app.task(name="send_reminders", pass_context=True)
def send_reminders(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.remind_of_expiries(school_day(timezone.now())))


@app.task(name="check_records", pass_context=True)
def check_records(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.check_records(timezone.now()))


# One at a time in the queue: due every hour, they would pile up while no worker runs.
@app.task(name="back_up", pass_context=True, queueing_lock="back_up")
def back_up(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.back_up(timezone.now()))


@app.task(name="forget_positions", pass_context=True)
def forget_positions(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.forget_positions(timezone.now()))


@app.task(name="clear_sessions", pass_context=True)
def clear_sessions(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.clear_sessions(timezone.now()))


@app.task(name="clear_track_uploads", pass_context=True)
def clear_track_uploads(context: JobContext, timestamp: int) -> None:
    _run_and_report(context, lambda: daily.clear_track_uploads(timezone.now()))


@app.task(name="clear_old_jobs", pass_context=True)
async def clear_old_jobs(context: JobContext, timestamp: int) -> None:
    """Delete old jobs from the queue's tables, and the reports of jobs that are gone."""
    await context.app.job_manager.delete_old_jobs(
        nb_hours=REPORT_RETENTION_DAYS * 24, include_failed=True, include_cancelled=True, include_aborted=True
    )
    await JobReport.objects.filter(at__lt=timezone.now() - timedelta(days=REPORT_RETENTION_DAYS)).adelete()
    await sync_to_async(_save_report)(context.job, "Cleared.", failed=False)


def register(queue: App) -> None:
    """Schedule the daily tasks. Killed workers are looked for every minute, even where cron does the daily work."""
    queue.periodic(cron=settings.STALLED_JOBS_CRON)(retry_stalled_jobs)
    if settings.BACKUP_FOLDER:
        queue.periodic(cron=BACKUP_CRON)(back_up)
    for name, (_, due) in DAILY_TASKS.items() if settings.DAILY_BY_WORKER else ():
        queue.periodic(cron=f"{due.minute} {due.hour} * * *")(queue.tasks[name])


def _run_and_report(context: JobContext, work: Callable[[], str]) -> None:
    """Run a task and store its report; an error is stored and raised again, so that the queue knows of it."""
    try:
        words = work()
    # Aborting is an order of the queue and no failure: it gets no report.
    except JobAborted:
        raise
    except Exception as fault:
        _save_report(context.job, f"{type(fault).__name__}: {fault}", failed=True)
        raise
    _save_report(context.job, words, failed=False)


def _save_report(job: Job, words: str, *, failed: bool) -> None:
    assert job.id is not None
    JobReport.objects.create(job=job.id, task=job.task_name, at=timezone.now(), failed=failed, words=words)
