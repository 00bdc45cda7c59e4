"""`manage.py start` with real processes: a beginning cut off twice, a power cut, a second start, a clean end."""

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from django.conf import settings

from school import embedded
from tests.databases import psql

PATIENCE = 300.0  # seconds; a machine of the checks has other work
ADD_ROW = """
INSERT INTO school_aerodrome (ident, name, elevation_ft, variation_deg, circuit_height_ft) VALUES ('ZZZZ', 'A', 0, 0, 9)
"""


class OwnSchool:
    """A folder with a school, and what runs of it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]
        self.environment = {"PATH": os.environ["PATH"], "LANG": "C.UTF-8", "DATA_FOLDER": str(folder)}

    def start(self) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "manage.py", "start", "--port", str(self.port)],
            cwd=settings.BASE_DIR,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )

    def processes(self) -> list[int]:
        """Every process that was started for this folder: by its environment, or, of PostgreSQL, by where it works."""
        told, data, found = f"DATA_FOLDER={self.folder}".encode(), self.folder.resolve() / "postgres/data", []
        for entry in Path("/proc").iterdir():
            with suppress(OSError):  # no process, or one that ended meanwhile
                if entry.name.isdigit() and (
                    told in (entry / "environ").read_bytes().split(b"\0") or (entry / "cwd").readlink() == data
                ):
                    found.append(int(entry.name))
        return found

    def cut_power(self) -> None:
        """Kill all of it at once; what one of them has just started is killed in the next round."""
        while running := self.processes():
            for number in running:
                with suppress(ProcessLookupError):
                    os.kill(number, signal.SIGKILL)
            time.sleep(0.05)

    def sql(self, statement: str) -> str:
        found = embedded.status(self.folder / "postgres")
        assert found is not None
        return psql(str(found), "record_app", "training_record", "-c", statement)


@pytest.fixture
def own() -> Iterator[OwnSchool]:
    with tempfile.TemporaryDirectory(dir="/tmp") as made:
        Path(made).chmod(0o711)  # for the account of PostgreSQL, where the tests are run by root
        school = OwnSchool(Path(made) / "school")
        yield school
        school.cut_power()
        embedded.remove(school.folder / "postgres")


def until(reached: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not reached():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


def read_until(process: subprocess.Popen[str], start: str) -> list[str]:
    assert process.stdout is not None
    lines = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith(start):
            return lines
    pytest.fail("".join(lines))


def test_a_school_is_begun_cut_off_and_ended_and_nothing_is_lost(own: OwnSchool) -> None:
    for moment in ("postgres/data/postmaster.pid", "postgres/provided"):  # PostgreSQL starts; the tables are made
        with own.start() as process:
            until((own.folder / moment).exists)
            own.cut_power()
        assert process.returncode == -signal.SIGKILL

    with own.start() as process:
        said = read_until(process, "Stop with Ctrl-C")
        code = next(
            line for line in said if line.startswith(f"Open http://127.0.0.1:{own.port}/set-up/ in the browser")
        )
        assert f"The school answers at http://127.0.0.1:{own.port}/ on this machine.\n" in said
        page = urllib.request.urlopen(f"http://127.0.0.1:{own.port}/set-up/").read().decode()
        assert "code" in page
        kept = {name: (own.folder / name).read_text() for name in ("secret", "environment", "signing/school.pem")}
        own.sql(ADD_ROW)

        with own.start() as second:
            refused, _ = second.communicate(timeout=PATIENCE)
        assert second.returncode == 1
        assert refused == f"CommandError: The school of {own.folder} is running already: stop that start first.\n"
        own.cut_power()

    with own.start() as process:
        said = read_until(process, "Stop with Ctrl-C")
        assert code in said
        assert own.sql("SELECT ident FROM school_aerodrome") == "ZZZZ"
        assert kept == {name: (own.folder / name).read_text() for name in kept}
        assert {(own.folder / name).stat().st_mode & 0o777 for name in kept} == {0o600}
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    assert own.processes() == []
