"""This module shows the administrator the state of the installation: one sentence a matter, with its mark."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.conf import settings
from django.urls import reverse

from grading.models import RecordCheck
from grading.operations.backup.create import last_backup
from grading.operations.running import status
from grading.pages.background_jobs import count_live_workers

STALE_AFTER = timedelta(hours=36)  # what is done every day and was missed once
# Two months ahead, because nothing can be printed once the certificate has expired.
RENEWAL_NOTICE = timedelta(days=60)


@dataclass(frozen=True)
class StatusItem:
    """One matter. `mark`: met, open or not_known. `at` ends the words, `more` follows it; `page` is a link."""

    mark: Literal["met", "open", "not_known"]
    title: str
    words: str
    at: datetime | None = None
    more: str = ""
    page: str = ""


def installation_status(at: datetime) -> list[StatusItem]:
    """Return the matters, the most harmful if wrong first. Seven queries."""
    return [_records(at), _backup(at), *_database(), *_queue(at), *_certificate(at), _disk(), _database_disk(), _mail()]


def _records(at: datetime) -> StatusItem:
    title, page = "Check of the records", reverse("grading:records")
    check = RecordCheck.objects.order_by("-pk").first()
    if check is None:
        return StatusItem("open", title, "The sealed records have not been checked yet.", page=page)
    seals = f"{check.seals} seal{'s' * (check.seals != 1)}"
    # A failed check goes first, however old it is: it weighs more than a check that was missed.
    if check.found:
        words = f"{check.found} thing{'s' * (check.found != 1)} did not hold in {seals}, checked"
        # Nothing may be repaired before somebody has looked: the altered rows are the evidence.
        return StatusItem("open", title, words, check.at, "Change nothing.", page)
    if at - check.at > STALE_AFTER:
        return StatusItem("open", title, f"{seals} held, checked", check.at, "The daily check was missed.", page)
    return StatusItem("met", title, f"{seals} held, checked", check.at, page=page)


def _backup(at: datetime) -> StatusItem:
    entry, title = last_backup(), "Backup"
    if entry is None:
        return StatusItem("open", title, "No backup has been made of this database yet: manage.py back_up.")
    made = entry.after or {}
    secret = "encrypted" if made["encrypted"] else "not encrypted"
    words = f"{made['file']}, {made['bytes'] / 1e6:.1f} MB, {made['seals']} seals, {secret}, made"
    if at - entry.at > STALE_AFTER:
        return StatusItem("open", title, words, entry.at, "The daily backup was missed.")
    return StatusItem("met", title, words, entry.at)


def _database() -> Iterator[StatusItem]:
    behind, found = status.unapplied_migrations(), status.database_status()
    if behind:
        words = f"{len(behind)} changes of the tables wait, the first is {behind[0]}: manage.py migrate."
        yield StatusItem("open", "Tables", words)
    else:
        yield StatusItem("met", "Tables", "As this version needs them.")
    yield StatusItem("met", "Database", f"{found.size / 1e6:.0f} MB, {found.connections} connections.")


def _queue(at: datetime) -> Iterator[StatusItem]:
    page, queue = reverse("grading:background_jobs"), status.queue_status()
    failed, waiting = queue.by_state.get("failed", 0), queue.by_state.get("waiting", 0)
    counted = ", ".join(f"{count} {name}" for name, count in queue.by_state.items()) or "None yet"
    # By heartbeat: a killed worker leaves its row behind.
    workers = count_live_workers(at - timedelta(seconds=settings.WORKER_TIMEOUT))
    if workers:
        yield StatusItem("met", "Workers", f"{workers} running.", page=page)
    else:
        yield StatusItem("open", "Workers", f"None is running: {waiting} jobs wait for one.", page=page)
    yield StatusItem("open" if failed else "met", "Jobs", f"{counted}.", page=page)


def _certificate(at: datetime) -> Iterator[StatusItem]:
    found, title = status.certificate_status(), "Signing certificate"
    if found is None:
        # On this machine alone there is a key, or one for demonstration is made; a server must not make one itself.
        if settings.ON_THIS_MACHINE:
            yield StatusItem("not_known", title, "It is recorded with the first sheet.")
        else:
            yield StatusItem("open", title, "There is none: nothing can be printed.")
    elif found.until < at:
        yield StatusItem("open", title, "It has expired: nothing can be printed.", found.until)
    elif found.until - at < RENEWAL_NOTICE:
        yield StatusItem("open", title, "It expires soon: renew it in time.", found.until)
    else:
        words = "For demonstration only, proves nothing, valid until" if found.demonstration else "Valid until"
        yield StatusItem("met", title, words, found.until)


def _disk() -> StatusItem:
    free = status.free_disk_bytes()
    words = f"{free / 1e9:.1f} GB free."
    return StatusItem("open" if free < settings.MIN_FREE_DISK else "met", "Disk", words)


def _database_disk() -> StatusItem:
    title = "Disk of the database"
    try:
        free = status.database_free_bytes()
    except OSError as error:
        return StatusItem("open", title, f"{settings.DATABASE_DISK} cannot be looked at: {error.strerror}.")
    if free is None:
        # Never “met”: PostgreSQL tells its superuser alone.
        words = "Not seen from here: watch it where PostgreSQL runs, or name it in the settings (DATABASE_DISK)."
        return StatusItem("not_known", title, words)
    return StatusItem("open" if free < settings.MIN_FREE_DISK else "met", title, f"{free / 1e9:.1f} GB free.")


def _mail() -> StatusItem:
    # Never “met”: the server that accepts an e-mail does not report whether it arrives.
    backend = settings.EMAIL_BACKEND.rpartition(".EmailBackend")[0].rpartition(".")[2]
    if backend != "smtp":
        return StatusItem("not_known", "E-mails", f"No e-mails are sent: they go to “{backend}”.")
    return StatusItem(
        "not_known",
        "E-mails",
        f"Handed to {settings.EMAIL_HOST}, port {settings.EMAIL_PORT}; whether they arrive cannot be seen here.",
    )
