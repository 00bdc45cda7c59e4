"""Read metrics for a monitor from the database, again at each request."""

from collections.abc import Iterator
from datetime import datetime

from django.db import Error
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from grading.evidence import chain
from grading.models import RecordCheck
from grading.operations.backup.create import last_backup
from grading.operations.running import status
from lessons.models import Lesson
from school.metrics import PREFIX


class DatabaseCollector(Collector):
    """Collect ages in seconds at `at`; where the database does not answer, report that alone."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def collect(self) -> Iterator[Metric]:
        try:
            # All before the first is sent: an error halfway would leave an answer that looks whole.
            found = list(self._collect_metrics())
        except Error:
            yield _gauge("database_up", "Whether the database answers", 0)
            return
        yield _gauge("database_up", "Whether the database answers", 1)
        yield from found

    def _collect_metrics(self) -> Iterator[Metric]:
        database, queue = status.database_status(), status.queue_status()
        yield _gauge("database_bytes", "Size of the database", database.size)
        yield _gauge("database_connections", "Connections to the database", database.connections)
        jobs = GaugeMetricFamily(f"{PREFIX}_jobs", "Jobs in the queue, by state", labels=["state"])
        # Also a state without jobs, so that its series does not end.
        for name in ("waiting", "under way", "failed"):
            jobs.add_metric([name.replace(" ", "_")], queue.by_state.get(name, 0))
        yield jobs
        waited = self._age(queue.oldest_waiting) or 0.0
        yield _gauge("oldest_waiting_job_seconds", "Since the oldest waiting job was asked for", waited)
        head = chain.head()
        yield _gauge("seals", "Number of the last seal of the chain", head.number if head else 0)
        yield _gauge("signed_lessons", "Signed lessons on record", Lesson.objects.signed().count())
        yield from self._backup_metrics()
        yield from self._check_metrics()
        yield _gauge("free_disk_bytes", "Free on the disk", status.free_disk_bytes())
        if (free := self._database_free_bytes()) is not None:
            yield _gauge("database_free_bytes", "Free for the database, as far as it is known from here", free)
        if certificate := status.certificate_status():
            yield _gauge(
                "certificate_seconds", "Until the signing certificate ends", -(self._age(certificate.until) or 0.0)
            )

    @staticmethod
    def _database_free_bytes() -> int | None:
        try:
            return status.database_free_bytes()
        except OSError:  # no series is the alarm of a monitor; /ready/ says why
            return None

    def _backup_metrics(self) -> Iterator[Metric]:
        backup = last_backup()
        # Nothing before the first backup: an age of 0 would say that one was just made.
        if backup is not None:
            yield _gauge("backup_age_seconds", "Since the last backup", self._age(backup.at) or 0.0)

    def _check_metrics(self) -> Iterator[Metric]:
        """Yield the outcome of the last audit; nothing before the first, for unchecked records prove nothing."""
        check = RecordCheck.objects.order_by("-pk").first()
        if check is not None:
            yield _gauge("record_check_age_seconds", "Since the records were last checked", self._age(check.at) or 0.0)
            yield _gauge("record_check_findings", "What the last check of the records found wrong", check.found)
            yield _gauge("chain_holds", "Whether the last check found every record unaltered", int(not check.found))

    def _age(self, moment: datetime | None) -> float | None:
        return (self.at - moment).total_seconds() if moment else None


def _gauge(name: str, words: str, value: float) -> Metric:
    return GaugeMetricFamily(f"{PREFIX}_{name}", words, value=value)
