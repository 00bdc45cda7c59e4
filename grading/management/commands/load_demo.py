from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.simulation.demo.demo_people import STAFF
from grading.simulation.demo.demo_school import DemoSchool
from school.models import Person, School


class Command(BaseCommand):
    help = "Fill an empty database with the invented demo school. Leaves the demo's as it is, and refuses any other."

    def handle(self, *args: Any, **options: Any) -> None:
        # Accounts with a printed password must never come into the database of a server, even an empty one.
        if not settings.ON_THIS_MACHINE:
            raise CommandError("The demo belongs in this machine's own database: unset DATABASE_URL first.")
        if School.objects.exists() or Person.objects.exists():
            return self._require_demo()
        self.stdout.write("Building the demo school, a minute at most:")
        DemoSchool(timezone.localdate(), lambda name: self.stdout.write(f"  {name}")).build()

    @staticmethod
    def _require_demo() -> None:
        """Refuse a school that is not the demo's; say nothing about the demo's, since `demo` runs this each time."""
        names = {person.username for person in STAFF}
        # By the accounts, because a visitor may have renamed the school.
        if Person.objects.filter(username__in=names).count() != len(names):
            raise CommandError("There is another school in this database, and it stays as it is: nothing was loaded.")
