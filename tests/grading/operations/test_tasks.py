"""Real worker processes under the application's role: they share a run, one is killed, and nothing is lost."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as project
from django.db import connection
from procrastinate.contrib.django.models import ProcrastinateJob, ProcrastinateWorker

from grading.actions.print_runs import request_run
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.models import PrintRun, Sheet
from tests.cast import Cast
from tests.factories import add_students

PATIENCE = 120.0  # seconds
STUDENTS = 6

Start = Callable[[], subprocess.Popen[bytes]]


def wait_until(what: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not what():
        assert time.monotonic() < end, "nothing came of it"
        time.sleep(0.05)


def grant_app_role() -> None:
    """The default privileges of school/embedded.py, in the database of the tests."""
    with connection.cursor() as cursor:
        cursor.execute("GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO record_app")
        cursor.execute("GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO record_app")


@pytest.fixture
def start(transactional_cast: Cast, tmp_path: Path) -> Iterator[Start]:
    grant_app_role()
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.worker_settings",
        "WORKER_DATABASE": str(connection.settings_dict["NAME"]),
    }
    started: list[subprocess.Popen[bytes]] = []
    log = (tmp_path / "workers.log").open("w")

    def worker() -> subprocess.Popen[bytes]:
        command = [sys.executable, str(project.BASE_DIR / "manage.py"), "procrastinate", "worker"]
        started.append(subprocess.Popen(command, env=environment, stdout=log, stderr=log))
        return started[-1]

    yield worker
    for process in started:
        with suppress(ProcessLookupError):
            process.kill()
        process.wait()
    log.close()
    with connection.cursor() as cursor:
        for table in ("procrastinate_periodic_defers", "procrastinate_jobs", "procrastinate_workers"):
            cursor.execute(f"DELETE FROM {table}")


def request_active_run(cast: Cast) -> PrintRun:
    return request_run(
        kind="progress", on=cast.today, paper="A4", chosen=PrintRun.Chosen.ACTIVE, by=cast.frida, at=cast.at()
    )


def count_printed(run: PrintRun) -> int:
    return run.items.filter(sheet__isnull=False).count()


def job_states(run: PrintRun) -> list[tuple[str, int]]:
    found = ProcrastinateJob.objects.filter(task_name="print_items", args__run=run.pk).order_by("id")
    return list(found.values_list("status", "attempts"))


def test_killed_workers_lose_nothing_and_print_nothing_twice(
    transactional_cast: Cast, start: Start, settings: Any
) -> None:
    cast = transactional_cast
    add_students(cast, STUDENTS - 2)
    settings.PRINT_JOBS_AT_ONCE = 2
    shared = request_active_run(cast)
    first, second = start(), start()
    wait_until(
        lambda: count_printed(shared) >= 3 and [status for status, _ in job_states(shared)] == ["doing", "doing"]
    )
    first.send_signal(signal.SIGKILL)
    wait_until(lambda: count_printed(shared) == STUDENTS)
    wait_until(
        lambda: {status for status, _ in job_states(shared)} == {"succeeded"}
    )  # the killed job was taken up and ended
    assert sum(attempts for _, attempts in job_states(shared)) >= 1

    settings.PRINT_JOBS_AT_ONCE = 1
    alone = request_active_run(cast)
    wait_until(lambda: count_printed(alone) >= 1)
    second.send_signal(signal.SIGKILL)
    second.wait()
    assert count_printed(alone) < STUDENTS
    third = start()  # after a restart, the only job of the run is that of a killed worker
    wait_until(lambda: [status for status, _ in job_states(alone)] == ["succeeded"])
    assert job_states(alone)[0][1] >= 1

    for run, number in ((shared, 1), (alone, 2)):
        assert set(run.items.values_list("problem", flat=True)) == {""}
        sheets = run.items.values_list("enrolment", "sheet__enrolment", "sheet__number")
        assert {(mine, theirs == mine, found) for mine, theirs, found in sheets} == {
            (pk, True, number) for pk in run.items.values_list("enrolment", flat=True)
        }
    assert Sheet.objects.count() == 2 * STUDENTS
    assert first_broken_link(iterate_chain()) is None
    third.terminate()
    assert third.wait(PATIENCE) == 0
    assert not ProcrastinateWorker.objects.filter(procrastinatejob__isnull=True).exists()
