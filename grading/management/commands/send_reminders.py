"""Notify each person of documents that expire 60, 30 or 7 days ahead. Meant to be run once a day."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.operations.reminder_mail import send_reminders
from school.current import school_day


class Command(BaseCommand):
    help = "Sends an e-mail to each person whose paper runs out in 60, 30 or 7 days, and a list to the chief."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--on", type=date.fromisoformat, help="the day to be told on, today by default")

    def handle(self, *args: Any, on: date | None, **options: Any) -> None:
        self.stdout.write(send_reminders(on or school_day(timezone.now())))
