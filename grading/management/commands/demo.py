import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from grading.operations import one_machine
from grading.simulation.demo.demo_people import LEARNERS, PASSWORD, STAFF
from school import embedded
from school.errors import Refusal


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
        try:
            one_machine.require_libraries()
            if not options["prepare"]:
                one_machine.require_free_port(options["port"])
            self._prepare(options["fresh"])
        except Refusal as refused:
            raise CommandError(str(refused)) from refused
        if not options["prepare"]:
            self._serve(options["port"])

    def _prepare(self, fresh: bool) -> None:
        folder = settings.VAR / "postgres"
        if fresh:
            embedded.remove(folder)
            # The head of the chain that goes with it.
            Path(settings.SEAL_HEAD_FILE).unlink(missing_ok=True)
        embedded.use(folder)  # until this command ends, so that it is not started again by each of the next
        self._write_line("Opening the demo school, within twenty seconds the first time.\n")
        # Processes of their own: the owner's role makes tables, and the web application connects under another one.
        # Beside it, for it needs no database: most machines have a second core.
        static = one_machine.start_command("collectstatic", "--no-input", "--verbosity", "0")
        one_machine.wait_for_command(one_machine.start_command("load_demo", DATABASE_ROLE="owner"), "load_demo")
        one_machine.wait_for_command(static, "collectstatic")

    def _serve(self, port: int) -> None:
        status = one_machine.serve(port, lambda words: self._write_line(f"{words}\n"), lambda: self._write_logins(port))
        if status:
            sys.exit(status)

    def _write_logins(self, port: int) -> None:
        logins = [f"  {row.username:8} {', '.join(row.roles)}" for row in STAFF]
        student = LEARNERS[4]
        self._write_line(
            "\n".join(
                [
                    f"\nOpen http://127.0.0.1:{port}/ and log in as one of",
                    *logins,
                    f"  {student.username:8} student",
                    f"all with the password {PASSWORD}. Stop with Ctrl-C; the data stays.",
                    "On a server chief instructor and administrator must set up a second step of logging in; here"
                    " nobody must (SECOND_STEP_REQUIRED=true asks for it). Passkeys work at"
                    f" http://localhost:{port}/, and e-mails are printed below.\n\n",
                ]
            )
        )

    def _write_line(self, words: str) -> None:
        self.stdout.write(words, ending="")
        self.stdout.flush()
