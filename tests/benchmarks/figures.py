"""A figure: how long something took by the clock and for this process alone, beside its floor; a line of a table."""

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

PATIENCE = 6.0  # seconds for one figure
HEAD = "| what | ms | 95th | own CPU | floor | floor 95th | times | 95th | |\n|---" + "|---:" * 7 + "|---|\n"


@dataclass(frozen=True)
class Taken:
    """Seconds of each repeat by the clock, and of this process alone: the second does not count a busy machine."""

    clock: list[float]
    own: list[float]

    @property
    def middle(self) -> float:
        return statistics.median(self.clock)

    @property
    def p95(self) -> float:
        return share(self.clock, 0.95)


@dataclass(frozen=True)
class Figure:
    """`floor`: the least that any program must do for the same answer, measured in the same run; None without one."""

    what: str
    taken: Taken
    floor: Taken | None
    note: str = ""

    @property
    def line(self) -> str:
        numbers = [self.taken.middle, self.taken.p95, statistics.median(self.taken.own)]
        least = [self.floor.middle, self.floor.p95] if self.floor else []
        shown = [f"{seconds * 1000:,.2f}" for seconds in numbers + least] + ["", ""] * (not least)
        times = [f"{a / b:,.1f} ×" for a, b in zip(numbers, least, strict=False)] or ["", ""]
        return f"| {' | '.join([self.what, *shown, *times, self.note])} |"

    @property
    def kept(self) -> dict[str, Any]:
        return {"what": self.what, "middle": self.taken.middle}


def timed(act: Callable[[], Any], repeats: int, warm: bool = True) -> Taken:
    """Once to warm up, then as often as asked; what is slow three times at least."""
    if warm:
        act()
    clock: list[float] = []
    own: list[float] = []
    while len(clock) < repeats and (len(clock) < 3 or sum(clock) < PATIENCE):
        begun, spent = time.perf_counter(), time.process_time()
        act()
        clock.append(time.perf_counter() - begun)
        own.append(time.process_time() - spent)
    return Taken(sorted(clock), sorted(own))


def share(ordered: list[float], part: float) -> float:
    """The value below which a part of the ordered values lie."""
    return ordered[round(part * (len(ordered) - 1))]
