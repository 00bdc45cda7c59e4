"""Count requests over all processes of a server, in the Prometheus text format.

Each process counts in files of its own, in METRICS_FOLDER, and the one that answers adds them up. A file is named
after a slot and not after a process: a process takes the lowest free slot, by a lock that ends with it, and goes on
counting where the last one stopped. So there are as many files as processes ever ran at once, and no count is lost when
a process is replaced.
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
    """The slot of this process in the folder; a forked child takes another one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process, self.place = 0, -1
        self.lock: IO[str] | None = None

    def number(self) -> int:
        # A forked child inherits this object and must not count in its parent's files.
        if self.process != os.getpid():
            self.place, self.lock = self._take()
            self.process = os.getpid()
        return self.place

    def _take(self) -> tuple[int, IO[str]]:
        for place in count():
            lock = (self.folder / f"place-{place}.lock").open("a")
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:  # another process has this slot
                lock.close()
            else:
                return place, lock
        raise AssertionError("unreachable")


class RequestCounts:
    """Counters of one process, with few labels and few values each, because every pair becomes a series."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(folder)  # the library reads it there and nowhere else
        # Before the counters: each takes the class of values that is set when it is made.
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
        """Return all counts of all processes so far, and what `more` collects now."""
        registry = CollectorRegistry()
        MultiProcessCollector(registry, str(self.folder))  # type: ignore[no-untyped-call]
        registry.register(more)
        return generate_latest(registry)


@lru_cache(maxsize=1)
def get_counts() -> RequestCounts:
    return RequestCounts(Path(settings.METRICS_FOLDER))
