import subprocess
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.operations import one_machine, own_school
from school import embedded
from school.errors import Refusal


class Command(BaseCommand):
    help = (
        "Run a school on this machine, an empty one the first time: PostgreSQL, web server, worker and daily backups"
        " under one roof, until Ctrl-C or SIGTERM. Everything lies in DATA_FOLDER (.var/)."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.ON_THIS_MACHINE:
            raise CommandError(
                "DATABASE_URL names a database server: unset it for a school on this machine alone, or start the units"
                " of .deploy/README.md."
            )
        folder, port = Path(settings.VAR), options["port"]
        try:
            one_machine.require_libraries()
            own_school.require_room(folder, settings.MIN_FREE_DISK)
            with own_school.only_one(folder):
                one_machine.require_free_port(port)
                self._prepare(folder)
                status = one_machine.serve(port, self._write, lambda: self._write_address(folder, port))
        except Refusal as refused:
            raise CommandError(str(refused)) from refused
        if status:
            sys.exit(status)

    def _prepare(self, folder: Path) -> None:
        if not embedded.lies_inside(folder / "postgres"):
            raise Refusal(
                f"PostgreSQL does not run as root, and {folder} is closed to other accounts: run this as an account of"
                " its own, or set DATA_FOLDER to a folder that every account may pass, such as /srv/training-record."
            )
        own_school.make_files(folder, timezone.now())
        self._write(f"Starting the school of {folder}: half a minute the first time.")
        embedded.use(folder / "postgres")  # until this command ends, so that it is not started again by the next
        # Processes of their own: the owner's role makes tables, and the settings were read before their file was made.
        static = one_machine.start_command("collectstatic", "--no-input", "--verbosity", "0")
        migration = one_machine.start_command("migrate", "--no-input", "--verbosity", "0", DATABASE_ROLE="owner")
        one_machine.wait_for_command(migration, "migrate")
        one_machine.wait_for_command(static, "collectstatic")

    def _write_address(self, folder: Path, port: int) -> None:
        # It refuses where there is a school already.
        asked = one_machine.start_command("setup_code", output=subprocess.PIPE)
        code, _ = asked.communicate()
        self._write(f"\nThe school answers at http://127.0.0.1:{port}/ on this machine.")
        self._write("It is open: log in." if asked.returncode else code.decode().strip())
        self._write(f"Everything lies in {folder}, the settings in its file environment; a backup is made each day.")
        self._write("Stop with Ctrl-C or SIGTERM; nothing is lost.")

    def _write(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
