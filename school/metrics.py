"""Counts of a running server, over all of its processes, in the Prometheus text format.

Each process counts in files of its own, in METRICS_FOLDER, and whichever answers adds them up. The files are named by
a place and not by a process: a process takes the lowest place that nobody holds, by a lock that ends with it, and goes
on counting where the last one left off. So there are as many files as processes ever ran at once, and no count is lost
when a process is replaced.
"""

import fcntl
import os
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import IO

from django.conf import settings
from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest, values
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

LATENCY_BUCKETS = (0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)
PREFIX = "training_record"


class ProcessSlot:
    """The place of this process among those of the folder; another one in a child that was forked."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process, self.place = 0, -1
        self.lock: IO[str] | None = None

    def number(self) -> int:
        if self.process != os.getpid():
            self.place, self.lock = self._take()
            self.process = os.getpid()
        return self.place

    def _take(self) -> tuple[int, IO[str]]:
        for place in count():
            lock = (self.folder / f"place-{place}.lock").open("a")
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                lock.close()
            else:
                return place, lock
        raise AssertionError("unreachable")


class RequestCounts:
    """What every process counts: few labels, of few values each."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(folder)  # the library reads it there and nowhere else
        values.ValueClass = values.MultiProcessValue(ProcessSlot(folder).number)  # type: ignore[no-untyped-call]
        self.requests = Counter(
            f"{PREFIX}_requests", "Requests answered, by view and class of status", ["view", "status"], registry=None
        )
        self.seconds = Histogram(
            f"{PREFIX}_request_seconds", "Time to answer, by view", ["view"], buckets=LATENCY_BUCKETS, registry=None
        )
        self.database_faults = Counter(
            f"{PREFIX}_database_faults", "Requests that a fault of the database ended", registry=None
        )

    def record_response(self, view: str, status: int, seconds: float) -> None:
        self.requests.labels(view, f"{status // 100}xx").inc()
        self.seconds.labels(view).observe(seconds)

    def text(self, more: Collector) -> bytes:
        """Everything counted so far by all processes, and what `more` collects now."""
        registry = CollectorRegistry()
        MultiProcessCollector(registry, str(self.folder))  # type: ignore[no-untyped-call]
        registry.register(more)
        return generate_latest(registry)


@lru_cache(maxsize=1)
def get_counts() -> RequestCounts:
    return RequestCounts(Path(settings.METRICS_FOLDER))
