"""How fast, beside how fast it could be: `python -m tests.benchmarks --students 50 500`.

With `--students 50 500 5000 --years 1` every size has the same history a student, so that the exponents say how a page
grows with the school alone.

Each size lives in a cluster of its own under .var/, filled by tests/benchmarks/academy the first time and left there.
Every figure is measured in one run beside its floor, the least that any program must do for the same answer. With
`--load 30` people tap, look and read at once for so many seconds, against gunicorn on 127.0.0.1. With `--browser`
Chromium taps on the lesson page of that gunicorn, and with `--board` it opens the board: screens, time, bytes.
"""

import argparse
import importlib.util
import os
import subprocess
import sys
from pathlib import Path

from school.embedded import remove

ROOT = Path(__file__).resolve().parents[2]
YEARS = {50: 3, 500: 3, 5000: 1}
WITHOUT_PANDAS = """The same rules in pandas stand beside the figures, and pandas is not there:
it is the extra "benchmarks":
    .var/venv/bin/python -m pip install --require-hashes -r .ci/requirements-benchmarks.txt"""


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--students", type=int, nargs="+", default=[50, 500])
    parser.add_argument("--years", type=int, help="of history, three by default and one for 5,000 students")
    instead = parser.add_mutually_exclusive_group()
    instead.add_argument("--load", type=float, metavar="SECONDS", help="many people at once, instead of the figures")
    instead.add_argument("--board", action="store_true", help="the board in Chromium, instead of the figures")
    instead.add_argument("--browser", action="store_true", help="taps in Chromium, instead of the figures")
    parser.add_argument("--apart", action="store_true", help="under load: two web servers and two workers, one killed")
    parser.add_argument("--port", type=int, default=8619, help="of the server under load or for the browser")
    parser.add_argument("--fresh", action="store_true", help="fill the clusters anew")
    asked = parser.parse_args()
    whole = asked.load is None and not asked.browser and not asked.board
    if whole and importlib.util.find_spec("pandas") is None:
        raise SystemExit(WITHOUT_PANDAS)
    results = ROOT / ".var/benchmark.jsonl"
    if whole:
        what = ["tests.benchmarks.measure"]
    elif asked.board:
        what = ["tests.benchmarks.board", str(asked.port)]
    elif asked.browser:
        what = ["tests.benchmarks.browser", str(asked.port)]
    else:
        what = ["tests.benchmarks.load", str(asked.load), str(asked.port), *["apart"] * asked.apart]
    results.unlink(missing_ok=True)
    for students in asked.students:
        years = asked.years or YEARS.get(students, 3)
        usual = years == YEARS.get(students, 3)
        cluster = f"benchmark-{students}" if usual else f"benchmark-{students}-{years}-years"
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "tests.benchmarks.settings",
            "BENCHMARK_STUDENTS": str(students),
            "BENCHMARK_YEARS": str(years),
            "BENCHMARK_CLUSTER": cluster,
            "BENCHMARK_RESULTS": str(results),
        }
        owner = environment | {"DATABASE_ROLE": "owner"}
        if asked.fresh:
            remove(ROOT / ".var" / cluster)
        prepare = [sys.executable, "-m", "tests.benchmarks.prepare"]
        for command, env in (
            ([sys.executable, "manage.py", "migrate", "-v0"], owner),
            ([*prepare, "fill", str(students), str(years)], environment),
            ([*prepare, "analyse"], owner),
            ([sys.executable, "-m", *what], environment),
        ):
            subprocess.run(command, check=True, cwd=ROOT, env=env, stdin=subprocess.DEVNULL)
    if whole:
        subprocess.run([sys.executable, "-m", "tests.benchmarks.growth", str(results)], check=True, cwd=ROOT)


if __name__ == "__main__":
    main()
