"""Fills an empty database with an invented academy, to see how the pages bear many rows."""

import time
from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.evidence.chain import head
from grading.simulation.academy.build import Academy
from grading.simulation.demo.demo_people import PASSWORD
from school.models import Person, School

SECONDS_BETWEEN_LINES = 2.0


class Command(BaseCommand):
    help = "Fills an empty database with an invented academy: years of lessons, graded, signed and sealed."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--students", type=int, default=500, help="students in training at the end")
        parser.add_argument("--years", type=int, default=3, help="years of lessons up to today")
        parser.add_argument("--seed", type=int, default=1, help="the same seed makes the same academy")
        parser.add_argument("--on", type=date.fromisoformat, help="its last day, today by default")

    def handle(self, *args: Any, students: int, years: int, seed: int, on: date | None, **options: Any) -> None:
        if students < 1 or years < 1:
            raise CommandError("An academy has at least one student and one year.")
        if School.objects.exists() or Person.objects.exists():
            raise CommandError("There is a school in this database already; nothing was changed. Use an empty one.")
        self.begun = self.last_report = time.monotonic()
        academy = Academy(students, years, seed, on or timezone.localdate(), self._report_progress)
        academy.build()
        seconds, last = time.monotonic() - self.begun, head()
        rate = academy.tables.written / seconds
        self.stdout.write(f"{academy.tables.written:,} rows in {seconds:,.0f} s, {rate:,.0f} a second.")
        self.stdout.write(f"{last.number:,} seals, the last is {last.digest}." if last else "Nothing was sealed.")
        self.stdout.write(f"Logins: chief, admin, teacher1, student1 and on, each with the password {PASSWORD}.")

    def _report_progress(self, words: str, rows: int) -> None:
        now = time.monotonic()
        if now - self.last_report >= SECONDS_BETWEEN_LINES:
            self.last_report = now
            self.stdout.write(f"  {words}: {rows:,} rows, {rows / (now - self.begun):,.0f} a second")
            self.stdout.flush()
