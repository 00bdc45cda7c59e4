from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from grading.actions.opening import opening_code
from school.models import School


class Command(BaseCommand):
    help = "Print the code that opens the school in an empty installation, at /open/."

    def handle(self, *args: Any, **options: Any) -> None:
        if School.objects.exists():
            raise CommandError("This installation already has its school: log in.")
        address = f"{settings.PUBLIC_ADDRESS.rstrip('/')}/open/"
        self.stdout.write(f"Open {address} in the browser and enter {opening_code()}")
