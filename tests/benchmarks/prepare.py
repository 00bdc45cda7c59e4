"""Makes a cluster of the benchmark ready: fills it as the application, counts its rows as the owner."""

import sys

import django
from django.db import connection


def main(what: str, *numbers: str) -> None:
    from school.models import School  # noqa: PLC0415 - models are there only after setup

    if what == "fill" and not School.objects.exists():
        from tests.benchmarks.academy.__main__ import fill  # noqa: PLC0415

        fill(students=int(numbers[0]), years=int(numbers[1]))
    elif what == "analyse":
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")


if __name__ == "__main__":
    django.setup()
    main(*sys.argv[1:])
