"""What the administrator sees of the installation: a sentence a matter, with the mark of how it stands."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.conf import settings
from django.urls import reverse

from grading.models import RecordCheck
from grading.operations.backup.making import last_backup
from grading.operations.running import state
from grading.pages.jobs import living_workers

STALE = timedelta(hours=36)  # what is done every day and was missed once
SOON = timedelta(days=60)


@dataclass(frozen=True)
class Matter:
    """`how` is a mark: met, open or not_known. `at` ends the words, `more` follows it; `page` leads on."""

    how: Literal["met", "open", "not_known"]
    title: str
    words: str
    at: datetime | None = None
    more: str = ""
    page: str = ""


def matters(at: datetime) -> list[Matter]:
    """In the order of what hurts most if it is wrong. Seven queries."""
    return [_records(at), _backup(at), *_database(), *_queue(at), *_certificate(at), _disk(), _mail()]


def _records(at: datetime) -> Matter:
    title, page = "Check of the records", reverse("grading:records")
    check = RecordCheck.objects.order_by("-pk").first()
    if check is None:
        return Matter("open", title, "The sealed records were not checked yet.", page=page)
    seals = f"{check.seals} seal{'s' * (check.seals != 1)}"
    if check.found:
        words = f"{check.found} thing{'s' * (check.found != 1)} did not hold in {seals}, checked"
        return Matter("open", title, words, check.at, "Keep everything as it is.", page)
    if at - check.at > STALE:
        return Matter("open", title, f"{seals} held, checked", check.at, "It is done every day and was missed.", page)
    return Matter("met", title, f"{seals} held, checked", check.at, page=page)


def _backup(at: datetime) -> Matter:
    entry, title = last_backup(), "Backup"
    if entry is None:
        return Matter("open", title, "None was made of this database yet: manage.py back_up.")
    made = entry.after or {}
    secret = "encrypted" if made["encrypted"] else "not encrypted"
    words = f"{made['file']}, {made['bytes'] / 1e6:.1f} MB, {made['seals']} seals, {secret}, made"
    if at - entry.at > STALE:
        return Matter("open", title, words, entry.at, "It is made every day and was missed.")
    return Matter("met", title, words, entry.at)


def _database() -> Iterator[Matter]:
    behind, found = state.unapplied(), state.database()
    if behind:
        words = f"{len(behind)} changes of the tables wait, the first is {behind[0]}: manage.py migrate."
        yield Matter("open", "Tables", words)
    else:
        yield Matter("met", "Tables", "As this version needs them.")
    yield Matter("met", "Database", f"{found.size / 1e6:.0f} MB, {found.connections} connections.")


def _queue(at: datetime) -> Iterator[Matter]:
    page, queue = reverse("grading:jobs"), state.queue()
    failed, waiting = queue.by_state.get("failed", 0), queue.by_state.get("waiting", 0)
    counted = ", ".join(f"{count} {name}" for name, count in queue.by_state.items()) or "None yet"
    workers = living_workers(at - timedelta(seconds=settings.WORKER_GIVEN_UP_AFTER))
    if workers:
        yield Matter("met", "Workers", f"{workers} running.", page=page)
    else:
        yield Matter("open", "Workers", f"None is running: {waiting} jobs wait for one.", page=page)
    yield Matter("open" if failed else "met", "Jobs", f"{counted}.", page=page)


def _certificate(at: datetime) -> Iterator[Matter]:
    found, title = state.certificate(), "Signing certificate"
    if found is None:
        if settings.ON_THIS_MACHINE:
            yield Matter("not_known", title, "One for demonstration is made with the first sheet.")
        else:
            yield Matter("open", title, "There is none: nothing can be printed.")
    elif found.until < at:
        yield Matter("open", title, "It has run out: nothing can be printed.", found.until)
    elif found.until - at < SOON:
        yield Matter("open", title, "It runs out soon: renew it in time.", found.until)
    else:
        words = "For demonstration only, proves nothing, valid until" if found.demonstration else "Valid until"
        yield Matter("met", title, words, found.until)


def _disk() -> Matter:
    free = state.free_disk()
    words = f"{free / 1e9:.1f} GB free."
    return Matter("open" if free < settings.LEAST_FREE_DISK else "met", "Disk", words)


def _mail() -> Matter:
    backend = settings.EMAIL_BACKEND.rpartition(".EmailBackend")[0].rpartition(".")[2]
    if backend != "smtp":
        return Matter("not_known", "Letters", f"Nothing is sent: they go to “{backend}”.")
    return Matter(
        "not_known",
        "Letters",
        f"Handed to {settings.EMAIL_HOST}, port {settings.EMAIL_PORT}; whether they arrive cannot be seen here.",
    )
