"""What works behind the pages while people are at them: a print run, two workers, one of them killed in the middle."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable

from django.db.models import QuerySet
from django.utils import timezone
from procrastinate.contrib.django.models import ProcrastinateJob

from grading.actions.print_runs import request_run
from grading.models import PrintRun
from lessons.models import Enrolment
from school.models import Person

SHEETS, TIMEOUT = 60, 600.0


class BackgroundWork:
    """Each worker is a process group of its own, as on a machine of its own: they share the database alone."""

    def __init__(self) -> None:
        today = timezone.localdate()
        picked = list(Enrolment.objects.active(today).for_pages().order_by("pk")[:SHEETS])
        admin = Person.objects.get(username="admin")
        self.run = request_run(
            kind="progress", on=today, paper="A4", chosen=PrintRun.Chosen.PICKED, picked=picked, by=admin,
            at=timezone.now(),
        )  # fmt: skip
        self.workers = [self._start(), self._start()]
        self.begun = time.monotonic()

    def _start(self) -> "subprocess.Popen[bytes]":
        command = [sys.executable, "manage.py", "procrastinate", "worker"]
        quiet = subprocess.DEVNULL
        return subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True)

    def kill_one(self) -> None:
        """Once the run is under way; another machine comes up in its place."""
        _wait_until(lambda: self._printed() > SHEETS // 10)
        os.killpg(self.workers[0].pid, signal.SIGKILL)
        self.workers[0].wait()
        self.workers[0] = self._start()

    def end(self) -> str:
        """Waits for the run and says what came of it; refuses a sheet too few or too many."""
        try:
            _wait_until(lambda: self._printed() == SHEETS and not self._jobs().exclude(status="succeeded").exists())
        finally:
            for worker in self.workers:
                worker.terminate()
                worker.wait(TIMEOUT)
        sheets = list(self.run.items.values_list("sheet", flat=True))
        if len(set(sheets)) != SHEETS or self.run.items.exclude(problem="").exists():
            raise SystemExit(f"The print run went wrong: {len(set(sheets))} sheets for {SHEETS} students.")
        return (
            f"Print run of {SHEETS} sheets by two workers, one killed in the middle: done in"
            f" {time.monotonic() - self.begun:.0f} s, each sheet once, every job ended."
        )

    def _printed(self) -> int:
        return self.run.items.filter(sheet__isnull=False).count()

    def _jobs(self) -> QuerySet[ProcrastinateJob]:
        return ProcrastinateJob.objects.filter(task_name="print_items", args__run=self.run.pk)


def _wait_until(what: Callable[[], bool]) -> None:
    end = time.monotonic() + TIMEOUT
    while not what():
        if time.monotonic() > end:
            raise SystemExit(f"Nothing came of it within {TIMEOUT:.0f} s.")
        time.sleep(0.5)
