from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from grading.actions.opening import opening_code
from school.models import School


class Command(BaseCommand):
    help = "Print the code that sets up the school in an empty installation, at /set-up/."

    def handle(self, *args: Any, **options: Any) -> None:
        if School.objects.exists():
            raise CommandError("This installation already has its school: log in.")
        address = f"{settings.PUBLIC_ADDRESS.rstrip('/')}/set-up/"
        self.stdout.write(f"Open {address} in the browser and enter {opening_code()}")
