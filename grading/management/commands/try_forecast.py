"""Measure how well the forecast predicts, on simulated students that its model did not generate."""

from argparse import ArgumentParser
from collections.abc import Sequence
from typing import Any

from django.core.management.base import BaseCommand

from grading.rules.forecast.learners import KINDS
from grading.rules.forecast.trial import TrialRow, learn_from, run_trial, sample_cases
from grading.rules.readiness.success_rules import COMMON_RULE, Row

HEADS = ("students", "held", "sooner", "later", "no progress", "after 40", "got there", "CRPS", "flown", "gain")


class Command(BaseCommand):
    help = "Test the forecast on simulated students of six kinds and print how often its range was right."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--students", type=int, default=1200)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--past", type=int, default=360, help="past students, for who knows only the number flown")
        parser.add_argument("--row", type=int, metavar="N", help="N in a row over two lessons instead of 9 of 10")
        parser.add_argument("--learn", action="store_true", help="learn the prior from the past students, print it")
        parser.add_argument(
            "--unseen", action="store_true", help="judge each kind by a prior learned from past students of the others"
        )

    def handle(self, *args: Any, students: int, seed: int, past: int, **options: Any) -> None:
        rule = Row(options["row"], 2) if options["row"] else COMMON_RULE
        # Seeds apart, so that nobody is tried who was learned from.
        cases, before = sample_cases(students, seed, rule), sample_cases(past, seed + 1_000_000, rule)
        if options["unseen"]:
            rows = []
            for kind in KINDS:
                others = [case for case in before if case.kind != kind]
                of_kind = [case for case in cases if case.kind == kind]
                rows += run_trial(of_kind, before, learn_from(others, rule), rule)[:1]
        elif options["learn"]:
            prior = learn_from(before, rule)
            self.stdout.write(f"{prior}\n")
            rows = run_trial(cases, before, prior, rule)
        else:
            rows = run_trial(cases, before, rule=rule)
        self._write(rows, students, seed)

    def _write(self, rows: Sequence[TrialRow], students: int, seed: int) -> None:
        self.stdout.write(
            f"{students} simulated students, seed {seed}\n"
            "held, sooner, later: where it lay to the 80 % span. no progress: told so; after 40: of those asked after\n"
            "40 circuits or more; got there: of those told so, within the horizon anyway. CRPS in circuits,\n"
            "lower is better: of the forecast, of knowing only the number flown, and the gain\n"
        )
        self.stdout.write(f"{'':<11}" + "".join(f"{head:>12}" for head in HEADS))
        for row in rows:
            shares = (row.held, row.early, row.late, row.stalled, row.stalled_late, row.stalled_reached)
            figures = [str(row.students), *map(_percent, shares), f"{row.crps:.1f}", f"{row.crps_flown:.1f}"]
            self.stdout.write(f"{row.kind:<11}" + "".join(f"{figure:>12}" for figure in [*figures, _percent(row.gain)]))
        last = rows[-1]
        self.stdout.write(
            f"Brier score of the next attempt {last.brier:.4f}, by the last ten {last.brier_last_ten:.4f}"
        )


def _percent(share: float | None) -> str:
    return "-" if share is None or share != share else f"{share:.1%}"
