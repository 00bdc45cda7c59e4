import os
import subprocess
import sys
from argparse import ArgumentParser
from ctypes.util import find_library
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from grading.simulation.demo.demo_people import LEARNERS, PASSWORD, STAFF
from school import embedded
from school.process_supervisor import SupervisedProgram, supervise

LIBRARIES = {
    "pango-1.0": "libpango-1.0-0",
    "pangoft2-1.0": "libpangoft2-1.0-0",
    "harfbuzz-subset": "libharfbuzz-subset0",
}


class Command(BaseCommand):
    help = "Open the demo school on 127.0.0.1. Its data is kept from one start to the next."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--fresh", action="store_true", help="start over with a new demo school")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--prepare", action="store_true", help="load the school and stop there")

    def handle(self, *args: Any, **options: Any) -> None:
        # Accounts with a printed password must never come into the database of a server.
        if not settings.ON_THIS_MACHINE:
            raise CommandError("The demo runs on this machine's own database: unset DATABASE_URL first.")
        # First: otherwise only the first sheet would fail, long after the start.
        self._require_libraries()
        folder = settings.VAR / "postgres"
        if options["fresh"]:
            embedded.remove(folder)
            # The head of the chain that goes with it.
            Path(settings.SEAL_HEAD_FILE).unlink(missing_ok=True)
        embedded.use(folder)  # until this command ends, so that it is not started again by each of the next
        self.stdout.write("Opening the demo school: some twenty seconds the first time.")
        self.stdout.flush()
        # Processes of their own: the owner's role makes tables, and the web application connects under another one.
        # Beside them, for it needs no database: most machines have a second core.
        static = self._start("collectstatic", "--no-input", "--verbosity", "0")
        for command in (["migrate", "--verbosity", "0"], ["load_demo"]):
            self._wait(self._start(*command, DATABASE_ROLE="owner"), command[0])
        self._wait(static, "collectstatic")
        if options["prepare"]:
            return
        self._serve(options["port"])

    def _require_libraries(self) -> None:
        missing = [package for library, package in LIBRARIES.items() if not find_library(library)]
        if missing:
            raise CommandError(
                f"Printing needs system libraries that are missing: sudo apt-get install -y {' '.join(missing)}"
            )

    def _start(self, *command: str, **environment: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, str(settings.BASE_DIR / "manage.py"), *command], env={**os.environ, **environment}
        )

    def _wait(self, started: subprocess.Popen[bytes], name: str) -> None:
        if started.wait():
            raise CommandError(f"manage.py {name} failed, see above.")

    def _serve(self, port: int) -> None:
        logins = [f"  {row.username:8} {', '.join(row.roles)}" for row in STAFF]
        student = LEARNERS[4]
        self.stdout.write(f"\nOpen http://127.0.0.1:{port}/ and log in as one of")
        self.stdout.write("\n".join([*logins, f"  {student.username:8} student"]))
        self.stdout.write(f"all with the password {PASSWORD}. Stop with Ctrl-C; the data stays.")
        self.stdout.write(
            "On a server chief instructor and administrator must set up a second step of logging in; here nobody must"
            f" (SECOND_STEP_REQUIRED=true asks for it). Passkeys work at http://localhost:{port}/, and letters are"
            " printed below.\n"
        )
        self.stdout.flush()
        python = sys.executable
        gunicorn = [python, "-m", "gunicorn", "school.wsgi", "--bind", f"127.0.0.1:{port}"]
        worker = [python, str(settings.BASE_DIR / "manage.py"), "procrastinate", "worker"]
        os.chdir(settings.BASE_DIR)
        programs = [
            SupervisedProgram(
                "web server", [*gunicorn, "--workers", "2", "--threads", "4", "--log-level", "warning"], essential=True
            ),
            SupervisedProgram("worker", worker),
        ]
        status = supervise(programs, self._write_line)
        if status:
            sys.exit(status)

    def _write_line(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
