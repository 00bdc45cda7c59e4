"""Derive and store every verdict, or prove that the stored verdicts equal derived ones."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from grading.operations import daily
from grading.reading import verdict_cache
from lessons.models import Enrolment
from school.current import school_day


class Command(BaseCommand):
    help = "Derive and store the verdict of every student in training. With --check only compare with what is stored."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--check", action="store_true", help="change nothing; exit status 1 when one differs")

    def handle(self, *args: Any, check: bool, **options: Any) -> None:
        today = school_day(timezone.now())
        if not check:
            self.stdout.write(daily.derive_verdicts(today))
            return
        enrolments = list(Enrolment.objects.active(today).for_pages().order_by("pk"))
        count, differ = verdict_cache.compare_with_derived(enrolments)
        for row in differ:
            self.stdout.write(row.words)
        if differ:
            raise CommandError(f"{len(differ)} of {count} stored verdicts differ.")
        self.stdout.write(f"{count} stored verdicts equal those derived afresh.")
