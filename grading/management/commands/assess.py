import json
import sys
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from grading.rules.readiness import StandardError, assess
from grading.rules.readiness.json_format import (
    BadInput,
    facts_from_json,
    facts_schema,
    standard_from_json,
    verdict_to_json,
)


class Command(BaseCommand):
    help = "Print the verdict on a student's history from a JSON file, as of a day. No database is used."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("facts", nargs="?", help="JSON file of facts, or - for standard input")
        parser.add_argument("--on", type=date.fromisoformat, help="the day, YYYY-MM-DD")
        parser.add_argument("--standard", type=Path, default=settings.BASE_DIR / "fixtures/standards/us.json")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of the facts instead")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(facts_schema(), indent=2))
            return
        if not options["facts"] or not options["on"]:
            self._refuse("give a file of facts and the day: assess FACTS.json --on YYYY-MM-DD")
        try:
            facts = facts_from_json(_read_text(options["facts"]))
            standard = standard_from_json(options["standard"].read_text())
            verdict = assess(facts, standard, options["on"])
        except OSError as error:
            self._refuse(f"{error.filename}: {error.strerror}")
        except (BadInput, StandardError) as error:
            self._refuse(str(error))
        else:
            self.stdout.write(json.dumps(verdict_to_json(verdict), indent=2, ensure_ascii=False))

    def _refuse(self, sentence: str) -> None:
        self.stderr.write(sentence)
        sys.exit(2)


def _read_text(name: str) -> str:
    return sys.stdin.read() if name == "-" else Path(name).read_text()
