import sys
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.operations.backup.manifest import Manifest
from grading.operations.backup.passphrase import PASSPHRASE_FILE_HELP, read_passphrase
from grading.operations.backup.restore import read_backup, restore_backup, write_key
from school.errors import Refusal


class Command(BaseCommand):
    help = (
        "Restore a backup into an empty database, bring it to this version, and check every record and the head of the"
        " chain. Exit status 1 when something does not hold. With --check the backup is only read, to its last byte."
    )
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("source", type=Path)
        parser.add_argument("--passphrase-file", type=Path, help=f"decrypt the backup: {PASSPHRASE_FILE_HELP}")
        parser.add_argument("--check", action="store_true", help="change nothing")
        parser.add_argument("--key-to", type=Path, metavar="FILE", help="write the school's key into this new file")

    def handle(self, *args: Any, **options: Any) -> None:
        source = options["source"]
        begun = time.monotonic()
        try:
            passphrase = read_passphrase(options["passphrase_file"])
            if options["check"]:
                manifest = read_backup(source, passphrase, whole=True)
                findings: list[str] = []
            else:
                done = restore_backup(source=source, passphrase=passphrase, at=timezone.now())
                manifest, findings = done.manifest, done.findings
                self.stdout.write(f"Restored, with {done.migrated} migrations to this version.")
            if options["key_to"]:
                write_key(manifest, options["key_to"])
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        except OSError as failed:
            raise CommandError(f"{source} cannot be read: {failed.strerror}.") from failed
        self._print_summary(manifest, time.monotonic() - begun)
        if findings:
            self.stderr.write("\n".join(findings))
            self.stderr.write(f"{len(findings)} things do not hold. Keep the backup and this database as they are.")
            sys.exit(1)
        if not options["check"]:
            self.stdout.write("Every record holds, and the head of the chain is that of the backup.")

    def _print_summary(self, manifest: Manifest, seconds: float) -> None:
        rows = sum(manifest.rows.values())
        self.stdout.write(
            f"Made {manifest.made_at:%Y-%m-%d %H:%M} UTC by version {manifest.application} of the program, PostgreSQL"
            f" {manifest.postgresql}: {rows} rows in {len(manifest.rows)} tables, {seconds:.1f} s"
        )
        self.stdout.write(f"{manifest.chain}")
        words = "with" if manifest.key else "without"
        self.stdout.write(f"{len(manifest.certificates)} certificates, {words} the school's key")
