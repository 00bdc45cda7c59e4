"""A figure: how long something took by the clock and for this process alone, beside its floor; a line of a table."""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

TIME_LIMIT = 6.0  # seconds for one figure
TABLE_HEAD = (
    "| what | ms | 95th | own CPU | floor | floor 95th | its CPU | times | 95th | own CPU | |\n|---"
    + "|---:" * 9
    + "|---|\n"
)


@dataclass(frozen=True)
class Timing:
    """Seconds of each repeat by the clock, and of this process alone: the second does not count a busy machine.

    `own` is empty where another process does the work.
    """

    clock: list[float]
    own: list[float] = field(default_factory=list)

    @property
    def middle(self) -> float:
        return statistics.median(self.clock)

    @property
    def own_middle(self) -> float:
        return statistics.median(self.own)

    @property
    def p95(self) -> float:
        return percentile(self.clock, 0.95)


@dataclass(frozen=True)
class Figure:
    """`floor`: the least that any program must do for the same answer, measured in the same run."""

    what: str
    taken: Timing
    floor: Timing
    note: str = ""

    @property
    def line(self) -> str:
        pairs = [(self.taken.middle, self.floor.middle), (self.taken.p95, self.floor.p95)]
        (middle, least), (p95, least_p95) = [(f"{a * 1000:,.2f}", f"{b * 1000:,.2f}") for a, b in pairs]
        own, least_own = (f"{row.own_middle * 1000:,.2f}" if row.own else "" for row in (self.taken, self.floor))
        times = [f"{a / b:,.1f} ×" for a, b in pairs]
        both = self.taken.own and self.floor.own
        times.append(f"{self.taken.own_middle / self.floor.own_middle:,.1f} ×" if both else "")
        return f"| {' | '.join([self.what, middle, p95, own, least, least_p95, least_own, *times, self.note])} |"

    @property
    def kept(self) -> dict[str, Any]:
        return {"what": self.what, "middle": self.taken.middle}


def measure_time(act: Callable[[], Any], repeats: int, warm: bool = True) -> Timing:
    """Once to warm up, then as often as asked; what is slow three times at least."""
    if warm:
        act()
    clock: list[float] = []
    own: list[float] = []
    while len(clock) < repeats and (len(clock) < 3 or sum(clock) < TIME_LIMIT):
        begun, spent = time.perf_counter(), time.process_time()
        act()
        clock.append(time.perf_counter() - begun)
        own.append(time.process_time() - spent)
    return Timing(sorted(clock), sorted(own))


def percentile(ordered: list[float], part: float) -> float:
    """The value below which a part of the ordered values lie."""
    return ordered[round(part * (len(ordered) - 1))]
