"""A school of its own to be hurt: PostgreSQL with durability on, gunicorn with two workers, a worker for jobs."""

import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psycopg

from school import embedded

PROJECT = Path(__file__).resolve().parent.parent.parent
TIMEOUT = 60.0  # seconds


class Installation:
    """Every process it kills is one that it started; all are known by their numbers."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.cluster = folder, folder / "postgres"
        self.log = (folder / "servers.log").open("a")
        self.web: subprocess.Popen[bytes] | None = None
        self.worker: subprocess.Popen[bytes] | None = None
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port: int = free.getsockname()[1]

    def start_database(self) -> None:
        embedded.database(self.cluster, durable=True)

    def environment(self, role: str) -> dict[str, str]:
        """What tells settings which database to use, under which role."""
        told = embedded.database(self.cluster, role=role, durable=True)
        return {
            "DATABASE_URL": f"postgres://{told['USER']}@/{told['HOST']}/{told['NAME']}",
            "DJANGO_SETTINGS_MODULE": "tests.endurance.settings",
            "SECRET_KEY": "of an endurance run", "ALLOWED_HOSTS": "127.0.0.1",
            "SEAL_HEAD_FILE": str(self.folder / "seal-head.json"),
            "SIGNING_KEY_FILE": str(self.folder / "signing" / "demonstration.pem"),
        }  # fmt: skip

    def start_web(self, threads: int = 1) -> None:
        bind = ["--bind", f"127.0.0.1:{self.port}", "--workers", "2", "--timeout", "60", "--log-level", "error"]
        bind += ["--threads", str(threads)]
        self.web = self._start([sys.executable, "-m", "gunicorn", "school.wsgi", *bind])
        wait_until(lambda: self.web is not None and len(child_processes(self.web.pid)) == 2 and self._listens())

    def start_worker(self) -> None:
        self.worker = self._start([sys.executable, str(PROJECT / "manage.py"), "procrastinate", "worker"])

    def _start(self, command: list[str]) -> subprocess.Popen[bytes]:
        environment = {**os.environ, **self.environment("app")}
        return subprocess.Popen(command, cwd=PROJECT, env=environment, stdout=self.log, stderr=self.log)

    def _listens(self) -> bool:
        with suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
            return True
        return False

    # Killing

    def kill_web_worker(self) -> bool:
        """One of the two; gunicorn starts another."""
        assert self.web is not None
        return _kill(random.choice(child_processes(self.web.pid) or [0]))

    def kill_worker(self) -> bool:
        """The worker of the jobs; it is started again as whatever watches it would."""
        assert self.worker is not None
        done = _kill(self.worker.pid)
        self.worker.wait()
        self.start_worker()
        return done

    def kill_database(self) -> bool:
        """The server of the database, with all that it had not written down; its children end by themselves."""
        done = _kill(self.database_pid())
        time.sleep(random.uniform(0, 1))
        self.start_database()
        return done

    def end_connections(self) -> bool:
        """Every connection of the application, in the middle of whatever it does."""
        told = embedded.database(self.cluster, durable=True)
        with psycopg.connect(host=told["HOST"], dbname=told["NAME"], user="postgres", autocommit=True) as chief:
            ended = chief.execute(
                "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE usename = 'record_app'"
            ).fetchone()
        return bool(ended and ended[0])

    def database_pid(self) -> int:
        return int((self.cluster.resolve() / "data" / "postmaster.pid").read_text().split()[0])

    def watch(self) -> bool:
        """Start the worker of the jobs again if it ended by itself, as it may without a database."""
        if self.worker is None or self.worker.poll() is None:
            return False
        with suppress(embedded.Unavailable):
            self.start_worker()
        return True

    def answers(self) -> bool:
        return embedded.status(self.cluster) is not None

    def stop(self) -> None:
        for process in (self.web, self.worker):
            if process is not None and process.poll() is None:
                process.terminate()
                try:
                    process.wait(10)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.wait()
        embedded.remove(self.cluster)
        self.log.close()


@contextmanager
def temporary_installation(megabytes: int = 0) -> Iterator[Installation]:
    """Started with a database only; everything is stopped and deleted in the end.

    `megabytes`: its database has a disk of that size, in memory; that takes the rights of root.
    """
    made = Path(tempfile.mkdtemp(prefix="endurance-", dir="/var/tmp"))
    made.chmod(0o711)  # for the account of the database, where this is run by root
    found = Installation(made)
    if megabytes:
        found.cluster.mkdir()
        disk = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=711", "tmpfs", str(found.cluster)]
        subprocess.run(disk, check=True)
    try:
        found.start_database()
        yield found
    finally:
        found.stop()
        if megabytes:
            subprocess.run(["umount", str(found.cluster)], check=True)
        shutil.rmtree(made)


def child_processes(pid: int) -> list[int]:
    try:
        return [int(number) for number in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except FileNotFoundError:
        return []


def _kill(pid: int) -> bool:
    if not pid:
        return False
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return False
    return True


def wait_until(what: object) -> None:
    assert callable(what)
    end = time.monotonic() + TIMEOUT
    while not what():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)
