"""Notify each person of documents and releases that expire. Meant to be run once a day."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.operations.daily import remind_of_expiries
from school.current import school_day


class Command(BaseCommand):
    help = "Send an e-mail to each person whose document or release expires soon, and a list to the chief instructor."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", type=date.fromisoformat, help="as of this day, today by default")

    def handle(self, *args: Any, on: date | None, **options: Any) -> None:
        self.stdout.write(remind_of_expiries(on or school_day(timezone.now())))
