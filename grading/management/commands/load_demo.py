from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.test.utils import override_settings
from django.utils import timezone

from grading.simulation.demo.demo_people import STAFF
from grading.simulation.demo.demo_school import DemoSchool, QuickHasher
from grading.simulation.demo.stored_school import STORED_SCHOOL, StoredSchoolUnfit, load_school, write_school
from grading.simulation.demo.stored_tables import STORED_TABLES, load_tables, write_tables
from school.models import Person, School

DEMO_HASHERS = [f"{QuickHasher.__module__}.{QuickHasher.__qualname__}"]


class Command(BaseCommand):
    help = "Fill an empty database with the invented demo school. Leaves the demo's as it is, and refuses any other."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--rebuild",
            action="store_true",
            help=f"build it with the real actions, in a minute or two, and rewrite {STORED_SCHOOL.parent.name}/",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        # Accounts with a printed password must never come into the database of a server, even an empty one.
        if not settings.ON_THIS_MACHINE:
            raise CommandError("The demo belongs in this machine's own database: unset DATABASE_URL first.")
        if options["rebuild"] or not load_tables(STORED_TABLES):
            call_command("migrate", verbosity=0)
        if School.objects.exists() or Person.objects.exists():
            return self._require_demo()
        if options["rebuild"]:
            return self._rebuild()
        self.stdout.write("Copying the demo school, its days moved to today.")
        try:
            load_school(STORED_SCHOOL, timezone.localdate())
        except StoredSchoolUnfit as unfit:
            raise CommandError(str(unfit)) from unfit

    def _rebuild(self) -> None:
        today = timezone.localdate()
        # Some four hundred signatures ask for a password each; Django would give it its real cost at the first.
        with override_settings(PASSWORD_HASHERS=DEMO_HASHERS):
            DemoSchool(today, lambda name: self.stdout.write(f"  {name}")).build()
        write_school(STORED_SCHOOL, today)
        write_tables(STORED_TABLES)

    @staticmethod
    def _require_demo() -> None:
        """Refuse a school that is not the demo's; say nothing about the demo's, since `demo` runs this each time."""
        names = {person.username for person in STAFF}
        # By the accounts, because a visitor may have renamed the school.
        if Person.objects.filter(username__in=names).count() != len(names):
            raise CommandError("There is another school in this database, and it stays as it is: nothing was loaded.")
