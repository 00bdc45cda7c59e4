from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from grading.simulation.demo.demo_school import DemoSchool
from school.models import School


class Command(BaseCommand):
    help = "Fill an empty database with the invented demo school. Leaves a database with a school as it is."

    def handle(self, *args: Any, **options: Any) -> None:
        # Without a word: `demo` runs this at every start.
        if School.objects.exists():
            return
        self.stdout.write("Building the demo school, a minute at most:")
        DemoSchool(timezone.localdate(), lambda name: self.stdout.write(f"  {name}")).build()
