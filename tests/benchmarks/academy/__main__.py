"""Fill an empty database with an invented academy: python -m tests.benchmarks.academy --students 500 --years 3.

DJANGO_SETTINGS_MODULE and DATABASE_URL say which database; the benchmark fills clusters of its own.
"""

import argparse
import sys
import time
from datetime import date

import django

SECONDS_BETWEEN_LINES = 2.0


def say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


class FillError(Exception):
    """The academy cannot be made here; the text says why."""


def fill(*, students: int, years: int, seed: int = 1, on: date | None = None) -> None:
    """Write the academy in one transaction and print how it goes. FillError where there is a school already."""
    # The models are there only after Django is set up.
    from django.utils import timezone  # noqa: PLC0415

    from grading.evidence.chain import head  # noqa: PLC0415
    from grading.simulation.demo.demo_people import PASSWORD  # noqa: PLC0415
    from school.models import Person, School  # noqa: PLC0415
    from tests.benchmarks.academy.build import Academy  # noqa: PLC0415

    if students < 1 or years < 1:
        raise FillError("An academy has at least one student and one year.")
    if School.objects.exists() or Person.objects.exists():
        raise FillError("There is a school in this database already; nothing was changed. Use an empty one.")
    progress = Progress()
    academy = Academy(students, years, seed, on or timezone.localdate(), progress.report)
    academy.build()
    seconds, last = time.monotonic() - progress.begun, head()
    say(f"{academy.tables.written:,} rows in {seconds:,.0f} s, {academy.tables.written / seconds:,.0f} a second.")
    say(f"{last.number:,} seals, the last is {last.digest}." if last else "Nothing was sealed.")
    say(f"Logins: chief, admin, teacher1, student1 and on, each with the password {PASSWORD}.")


class Progress:
    """Prints a line now and then."""

    def __init__(self) -> None:
        self.begun = self.last_report = time.monotonic()

    def report(self, words: str, rows: int) -> None:
        now = time.monotonic()
        if now - self.last_report >= SECONDS_BETWEEN_LINES:
            self.last_report = now
            say(f"  {words}: {rows:,} rows, {rows / (now - self.begun):,.0f} a second")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.academy", description=__doc__)
    parser.add_argument("--students", type=int, default=500, help="students in training at the end")
    parser.add_argument("--years", type=int, default=3, help="years of lessons up to today")
    parser.add_argument("--seed", type=int, default=1, help="the same seed makes the same academy")
    parser.add_argument("--on", type=date.fromisoformat, help="its last day, today by default")
    options = parser.parse_args()
    django.setup()
    try:
        fill(students=options.students, years=options.years, seed=options.seed, on=options.on)
    except FillError as refusal:
        parser.error(str(refusal))


if __name__ == "__main__":
    main()
