"""Programs side by side: one signal stops all, a worker that dies comes back, none outlives who started it."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings

PATIENCE = 30.0

# Two programs that write down the number of each of their processes.
CODE = """
import signal, sys
from school import process_supervisor
signal.signal(signal.SIGHUP, signal.SIG_DFL)  # as at a terminal, whatever started the tests
process_supervisor.RESTART_DELAY = 0.0
write = "import os, sys, time; open(sys.argv[1], 'a').write(f'{os.getpid()}\\\\n'); time.sleep(600)"
programs = [
    process_supervisor.SupervisedProgram("server", [sys.executable, "-c", write, sys.argv[1]], essential=True),
    process_supervisor.SupervisedProgram("worker", [sys.executable, "-c", write, sys.argv[2]]),
]
sys.exit(process_supervisor.supervise(programs, print))
"""


def wait_until(what: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not what():
        assert time.monotonic() < end, "nothing came of it"
        time.sleep(0.05)


def is_running(number: int) -> bool:
    stat = Path(f"/proc/{number}/stat")
    return stat.exists() and stat.read_text().rsplit(")", 1)[1].split()[0] != "Z"


class SupervisedPair:
    def __init__(self, folder: Path) -> None:
        self.files = [folder / "server", folder / "worker"]
        for file in self.files:
            file.touch()
        self.process = subprocess.Popen(
            [sys.executable, "-c", CODE, *map(str, self.files)],
            cwd=settings.BASE_DIR,
            stdout=subprocess.PIPE,
            text=True,
        )
        wait_until(lambda: all(self.numbers(which) for which in (0, 1)))

    def numbers(self, which: int) -> list[int]:
        return [int(line) for line in self.files[which].read_text().split()]

    def all_gone(self) -> bool:
        return not any(is_running(number) for which in (0, 1) for number in self.numbers(which))


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_one_signal_stops_all(tmp_path: Path, number: signal.Signals) -> None:
    pair = SupervisedPair(tmp_path)
    pair.process.send_signal(number)
    pair.process.communicate(timeout=PATIENCE)
    assert pair.process.returncode == 0
    assert pair.all_gone()


def test_a_dead_worker_is_started_again_and_a_dead_server_ends_all(tmp_path: Path) -> None:
    pair = SupervisedPair(tmp_path)
    os.kill(pair.numbers(1)[0], signal.SIGKILL)
    wait_until(lambda: len(pair.numbers(1)) == 2)
    os.kill(pair.numbers(0)[0], signal.SIGKILL)
    said, _ = pair.process.communicate(timeout=PATIENCE)
    assert "The worker ended with status -9; it is started again." in said
    assert "The server ended with status -9; everything else is stopped." in said
    assert pair.process.returncode == 1
    assert pair.all_gone()


def test_none_outlives_who_started_it(tmp_path: Path) -> None:
    pair = SupervisedPair(tmp_path)
    pair.process.kill()
    pair.process.communicate()
    wait_until(pair.all_gone)
