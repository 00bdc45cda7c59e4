import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from grading.sheets.verification import verify
from school.file_reader import PATIENCE_SECONDS, ReadersBusy


class Command(BaseCommand):
    help = "Say whether a printed file is a sheet of this school, unaltered, and why. Exit status 1 when it is not."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            pdf = options["file"].read_bytes()
        except OSError as failed:
            raise CommandError(f"{options['file']} cannot be read: {failed.strerror}.") from failed
        try:
            found = verify(pdf, patience=PATIENCE_SECONDS)
        except ReadersBusy as busy:
            raise CommandError("Other files are being read at the moment: try again in a minute.") from busy
        self.stdout.write(found.answer.value)
        for sentence in found.why:
            self.stdout.write(f"  {sentence}")
        if not found.genuine:
            sys.exit(1)
