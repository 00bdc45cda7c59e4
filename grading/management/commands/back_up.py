import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.operations.backup.create import create_backup, remove_older_backups
from grading.operations.backup.passphrase import PASSPHRASE_FILE_HELP, read_passphrase
from school.errors import Refusal


class Command(BaseCommand):
    help = (
        "Write a backup: the whole database as of one moment and the school's certificates, in one file. Without a"
        " passphrase it is not encrypted."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("target", type=Path, help="a folder, or a file that is not there yet")
        parser.add_argument("--passphrase-file", type=Path, help=f"encrypt the backup: {PASSPHRASE_FILE_HELP}")
        parser.add_argument(
            "--with-key", action="store_true", help="the school's private key too; only into an encrypted backup"
        )
        parser.add_argument(
            "--keep", type=int, metavar="N", help="then remove all but the newest N backups of the folder"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        target, keep = options["target"], options["keep"]
        if keep is not None and not target.is_dir():
            raise CommandError("--keep needs a folder, to know which backups to count.")
        begun = time.monotonic()
        try:
            passphrase = read_passphrase(options["passphrase_file"])
            made = create_backup(target=target, passphrase=passphrase, with_key=options["with_key"], at=timezone.now())
            # Only after the new one is whole: a backup that failed never costs an older one.
            gone = remove_older_backups(target, keep) if keep is not None else []
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{made.path}: {made.bytes / 1e6:.1f} MB in {time.monotonic() - begun:.1f} s")
        self.stdout.write(f"{made.manifest.chain}")
        if not made.encrypted:
            self.stdout.write("It is not encrypted: anyone who has the file can read every record of every student.")
        for path in gone:
            self.stdout.write(f"removed {path.name}")
