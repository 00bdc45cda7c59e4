import sys
from typing import Any

from django.core.management.base import BaseCommand

from grading.sealing import first_broken, head, whole_chain


class Command(BaseCommand):
    help = "Check the whole chain of seals. Exit status 1 and the first broken link when it does not hold."

    def handle(self, *args: Any, **options: Any) -> None:
        broken = first_broken(whole_chain())
        if broken:
            self.stderr.write(f"seal {broken.number}: {broken.why}")
            sys.exit(1)
        last = head()
        self.stdout.write(f"{last.number} seals hold, the last is {last.digest}" if last else "nothing is sealed yet")
