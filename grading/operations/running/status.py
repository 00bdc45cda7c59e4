"""Read the state of a running installation, each part in one query or two."""

import shutil
import tempfile
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from cryptography import x509
from cryptography.x509.oid import NameOID
from django.conf import settings
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Count, Min
from procrastinate.contrib.django.models import ProcrastinateEvent, ProcrastinateJob

from grading.evidence.audit.database_guards import guard_findings
from school.signing_keys import DEMONSTRATION_UNIT

JOB_STATES = {"todo": "waiting", "doing": "under way", "failed": "failed", "succeeded": "done"}


@dataclass(frozen=True)
class QueueStatus:
    """Jobs by their state in the queue, and the moment since which the oldest one waits."""

    by_state: dict[str, int]
    oldest_waiting: datetime | None


@dataclass(frozen=True)
class DatabaseStatus:
    """Bytes on the disk, and the present number of connections."""

    size: int
    connections: int


@dataclass(frozen=True)
class CertificateStatus:
    until: datetime
    demonstration: bool


def queue_status() -> QueueStatus:
    """Read the state of the queue. Two queries."""
    rows = ProcrastinateJob.objects.values_list("status").annotate(Count("id"))
    # A job that is scheduled for later does not wait yet.
    asked = ProcrastinateEvent.objects.filter(type="deferred", job__status="todo", job__scheduled_at=None)
    return QueueStatus(
        {JOB_STATES.get(status, status): count for status, count in rows}, asked.aggregate(at=Min("at"))["at"]
    )


def database_status() -> DatabaseStatus:
    """Read the size of the database and its connections. One query."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_database_size(datname), numbackends FROM pg_stat_database WHERE datname = current_database()"
        )
        return DatabaseStatus(*cursor.fetchone())


def unapplied_migrations() -> list[str]:
    """Return the migrations of this version that the database has not had. One query."""
    applied = MigrationRecorder(connection).applied_migrations()
    return [f"{app} {name}" for app, name in _migrations_on_disk() if (app, name) not in applied]


# The files change only with a new version, which is a new process.
@lru_cache(maxsize=1)
def _migrations_on_disk() -> tuple[tuple[str, str], ...]:
    return tuple(sorted(MigrationLoader(None).disk_migrations))


def free_disk_bytes() -> int:
    """Return the free bytes of the fuller of two disks: that of stored files and that of temporary ones."""
    files = settings.VAR if settings.VAR.exists() else settings.BASE_DIR
    return min(shutil.disk_usage(folder).free for folder in (files, tempfile.gettempdir()))


def database_free_bytes() -> int | None:
    """Return what is free for the database, as far as it can be known from here; None where nothing tells.

    Of its disk where the settings name a folder on this machine (OSError where that cannot be looked at); else what
    its tables leave of the share that the settings name, without the log of PostgreSQL itself. One query at most.
    """
    if settings.DATABASE_DISK:
        return shutil.disk_usage(settings.DATABASE_DISK).free
    if settings.DATABASE_DISK_SHARE:
        return int(settings.DATABASE_DISK_SHARE) - database_status().size
    return None


def database_takes_writes() -> bool:
    """Return whether PostgreSQL takes writes, and not only reads. One query."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT NOT pg_is_in_recovery() AND current_setting('transaction_read_only') = 'off'")
        return bool(cursor.fetchone()[0])


def certificate_status() -> CertificateStatus | None:
    """Describe the certificate that signs; return None while there is none."""
    # From the file and not from the table of certificates: this key signs the next sheet.
    path = Path(settings.SIGNING_KEY_FILE)
    if not path.exists():
        return None
    certificate = x509.load_pem_x509_certificate(path.read_bytes())
    units = certificate.subject.get_attributes_for_oid(NameOID.ORGANIZATIONAL_UNIT_NAME)
    return CertificateStatus(certificate.not_valid_after_utc, any(unit.value == DEMONSTRATION_UNIT for unit in units))


def service_problems() -> list[str]:
    """Return why this installation should get no requests, as sentences for the log; empty when it is ready.

    Raises django.db.Error where the database does not answer.
    """
    problems = [f"The database has not had the migration {name}." for name in unapplied_migrations()]
    # Migrations make the guards: while some are missing, so may be their guards.
    if not problems:
        problems += guard_findings()
    if (free := free_disk_bytes()) < settings.MIN_FREE_DISK:
        problems.append(f"{free // 1_000_000} MB are free on the disk.")
    return problems + _database_problems()


def _database_problems() -> list[str]:
    problems = [] if database_takes_writes() else ["The database takes no writes."]
    try:
        free = database_free_bytes()
    except OSError as error:
        return [*problems, f"The disk of the database cannot be looked at: {error.strerror}."]
    if free is not None and free < settings.MIN_FREE_DISK:
        problems.append(f"{free // 1_000_000} MB are free for the database.")
    return problems
