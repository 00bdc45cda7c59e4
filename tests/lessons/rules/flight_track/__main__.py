"""Print how well tracks are measured, on lessons flown by the simulator: python -m tests.lessons.rules.flight_track 12

The number is that of lessons of eight circuits, the seeds begin at --seed. Far longer than a test may take: a hundred
go-arounds need some fifty lessons.
"""

import argparse
import sys

from grading.simulation.flight.flying import NoisyReceiver
from tests.lessons.rules.flight_track.trial import score

RECEIVERS = {
    "telephone, 1 s": NoisyReceiver(),
    "telephone, 5 s": NoisyReceiver(step=5.0),
    "telephone, gaps": NoisyReceiver(drops=1 / 240),
    "pressure, 1 s": NoisyReceiver(by_pressure=True),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("lessons", type=int)
    parser.add_argument("--seed", type=int, default=40)
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.lessons)
    for name, left in (("tailwheel", True), ("nosewheel", False)):
        for said, receiver in RECEIVERS.items():
            found = score(name, receiver, seeds, left=left)
            side = "left" if left else "right"
            rows = "\n  ".join(found.lines())
            sys.stdout.write(
                f"{name}, {side}-hand, {said}: landings that were none {found.landings_that_were_none()}\n"
            )
            sys.stdout.write(f"  {rows}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
