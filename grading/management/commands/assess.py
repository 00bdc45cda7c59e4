import json
import sys
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.rules.readiness import StandardError, StandardSpec, assess
from grading.rules.readiness.contradictions import FIRST_YEAR, LAST_YEAR
from grading.rules.readiness.json_format import (
    BadInput,
    facts_from_json,
    facts_schema,
    standard_from_json,
    verdict_to_json,
)

# Ten thousand circuits are 5 MiB; a device that never ends must not fill the memory.
MOST_BYTES = 64 * 2**20


class Command(BaseCommand):
    help = "Print the verdict on a student's history from a JSON file, as of a day. No database is used."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("facts", nargs="?", help="JSON file of facts, or - for standard input")
        parser.add_argument("--on", help="the day, YYYY-MM-DD")
        parser.add_argument("--standard", type=Path, default=settings.BASE_DIR / "fixtures/standards/us.json")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of the facts instead")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(facts_schema(), indent=2))
            return
        if not options["facts"] or not options["on"]:
            self._refuse("give a file of facts and the day: assess FACTS.json --on YYYY-MM-DD")
        try:
            on = _parse_day(options["on"])
            facts = facts_from_json(_read_file(options["facts"]), timezone.localdate())
            standard = _read_standard(options["standard"])
            verdict = assess(facts, standard, on)
        except OSError as error:
            self._refuse(f"{error.filename or options['facts']}: {error.strerror}")
        except (BadInput, StandardError) as error:
            self._refuse(str(error))
        else:
            self.stdout.write(json.dumps(verdict_to_json(verdict), indent=2, ensure_ascii=False))

    def _refuse(self, sentence: str) -> NoReturn:
        # On one line, whatever a file had in its names.
        self.stderr.write(" ".join(sentence.split()))
        sys.exit(2)


def _parse_day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise BadInput(f"--on: “{text}” is not a day, expected YYYY-MM-DD") from error
    # Python reads weeks and days without hyphens too, which are easily mistaken for something else.
    if day.isoformat() != text or not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise BadInput(f"--on: expected YYYY-MM-DD from {FIRST_YEAR} to {LAST_YEAR}, got “{text}”")
    return day


def _read_standard(path: Path) -> StandardSpec:
    try:
        return standard_from_json(_read_file(str(path)))
    except BadInput as error:
        # Both files are JSON: without the name the sentence would be about either.
        raise BadInput(f"{path}: {error}") from error


def _read_file(name: str) -> bytes:
    """Return the content of a file or of standard input. BadInput for more than any history needs."""
    if name == "-":
        content = sys.stdin.buffer.read(MOST_BYTES + 1)
    else:
        with Path(name).open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise BadInput(f"{name}: this is larger than {MOST_BYTES // 2**20} MiB")
    return content
