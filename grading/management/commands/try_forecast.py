"""Measure how well the forecast predicts, on simulated students that its model did not generate."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from grading.rules.forecast.trial import run_trial


class Command(BaseCommand):
    help = "Tries the forecast on simulated students and prints how often its interval held."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--students", type=int, default=2000)
        parser.add_argument("--seed", type=int, default=1)

    def handle(self, *args: Any, students: int, seed: int, **options: Any) -> None:
        found = run_trial(students, seed)
        self.stdout.write(
            f"{found.students} simulated students, seed {seed}, two-state learners with slips\n"
            f"  80 % interval held          {found.held:.1%}\n"
            f"    sooner than the interval  {found.early:.1%}\n"
            f"    later than the interval   {found.late:.1%}\n"
            f"    median of took less told  {found.bias:+.0f} circuits\n"
            f"  Brier score of the next attempt, lower is better\n"
            f"    the forecast              {found.brier:.4f}\n"
            f"    the last three            {found.brier_last_three:.4f}\n"
            f"    a constant rate           {found.brier_constant:.4f}\n"
            f"    who knows how they learn  {found.brier_knowing:.4f}\n"
        )
