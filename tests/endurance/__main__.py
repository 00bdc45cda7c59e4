"""python -m tests.endurance killing|disk|connections|files: a school of its own is hurt
and held to what it acknowledged, or to how fast its pages come while hostile files do.

PostgreSQL runs with durability on in a folder of its own under /var/tmp; everything is stopped and deleted afterwards.
"""

import argparse
import os
import random
import signal
import sys
from typing import Any

from tests.endurance.installation import Installation, temporary_installation

MEGABYTES = 300  # of the disk that fills up


def opened(found: Installation):  # type: ignore[no-untyped-def] # Django is not set up before
    """The tables and the cast in the new database; Django of this process is their owner."""
    os.environ |= found.environment("owner")
    import django  # noqa: PLC0415 - after its settings are named

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from tests import factories  # noqa: PLC0415

    call_command("migrate", verbosity=0)
    return factories.build_cast(timezone.localdate())


def killing(found: Installation, asked: argparse.Namespace) -> bool:
    cast = opened(found)
    from tests.endurance.process_kills import hurt_while_writing, process_damage  # noqa: PLC0415

    return _hurt(found, cast, asked, process_damage, hurt_while_writing)


def connections(found: Installation, asked: argparse.Namespace) -> bool:
    cast = opened(found)
    from tests.endurance.process_kills import connection_damage, hurt_while_writing  # noqa: PLC0415

    return _hurt(found, cast, asked, connection_damage, hurt_while_writing)


def _hurt(found: Installation, cast: Any, asked: argparse.Namespace, harm: Any, write: Any) -> bool:
    found.start_web()
    found.start_worker()
    pause = (asked.pause / 3, asked.pause)
    outcome = write(found, cast, harm(found), writes=asked.writes, sheets=asked.sheets, pause=pause)
    sys.stdout.write(outcome.report() + "\n")
    return bool(outcome.whole)


def files(found: Installation, asked: argparse.Namespace) -> bool:
    cast = opened(found)
    from tests.endurance.hostile_files import read_pages_while_files_come  # noqa: PLC0415

    found.start_web(threads=4)  # as in .deploy
    outcome = read_pages_while_files_come(found, cast)
    sys.stdout.write(outcome.report() + "\n")
    return outcome.fine


def disk(found: Installation, asked: argparse.Namespace) -> bool:
    cast = opened(found)
    from tests.endurance.full_disk import fill_while_writing  # noqa: PLC0415

    found.start_web()
    outcome = fill_while_writing(found, cast)
    sys.stdout.write(outcome.report() + "\n")
    return outcome.whole


parser = argparse.ArgumentParser(prog="python -m tests.endurance", description=__doc__)
parser.add_argument("trial", choices=["killing", "disk", "connections", "files"])
parser.add_argument("--writes", type=int, default=2000, help="acknowledged writes (default 2000)")
parser.add_argument("--sheets", type=int, default=20, help="of them at least so many printed sheets (default 20)")
parser.add_argument("--pause", type=float, default=2.0, help="most seconds between two kills (default 2)")
parser.add_argument("--seed", type=int, default=None, help="of moments and targets; another each time, if omitted")

if __name__ == "__main__":
    options = parser.parse_args()
    random.seed(options.seed)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that everything is stopped and deleted then, too
    with temporary_installation(MEGABYTES if options.trial == "disk" else 0) as place:
        fine = globals()[options.trial](place, options)
    sys.exit(0 if fine else 1)
