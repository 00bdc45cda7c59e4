import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from grading.evidence.audit.check import audit_records, compare_head
from grading.evidence.audit.database_guards import guard_findings, role_findings


class Command(BaseCommand):
    help = (
        "Check every sealed record: the chain, each record against its seal, what must have a seal, the printed sheets,"
        " and what the database would refuse. Exit status 1 when something does not hold; the first line names it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--head",
            nargs="+",
            metavar=("NUMBER", "DIGEST"),
            help="only compare the head printed on a sheet with the chain; spaces in the digest do not matter",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["head"]:
            self._compare_head(options["head"])
            return
        # Reads only and stores no outcome, so that an auditor changes nothing by looking.
        report = audit_records()
        found = [*map(str, report.findings), *guard_findings(), *role_findings()]
        for note in report.notes:
            self.stdout.write(note)
        if found:
            self.stderr.write("\n".join(found))
            self.stderr.write(f"{len(found)} findings in {report.seals} seals. Change nothing.")
            sys.exit(1)
        self.stdout.write(
            f"{report.seals} seals hold, the last is {report.head}" if report.seals else "nothing is sealed yet"
        )

    def _compare_head(self, given: list[str]) -> None:
        number, digest = given[0], "".join(given[1:])
        # Status 2 for a wrong call and 1 for a contradiction, so that a script can distinguish them.
        if not number.isdecimal() or len(digest) != 64:
            self.stderr.write("Give the number of the seal and the 64 digits of its fingerprint.")
            sys.exit(2)
        if contradicted := compare_head(int(number), digest):
            self.stderr.write(contradicted)
            sys.exit(1)
        self.stdout.write(f"Seal {number} is in the chain as the paper says.")
