"""Delete the positions of flight tracks whose time is over. Meant to be run once a day."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.operations.daily import forget_positions


class Command(BaseCommand):
    help = "Deletes the positions of old flight tracks; their readings stay with the record."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(forget_positions(timezone.now()))
