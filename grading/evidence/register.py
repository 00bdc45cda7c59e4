"""Seal the facts that records rest on, and the journal, in batches: before each record and once a day.

The register is opened once. What stands then is sealed as found on that day: nobody vouches for what was before.
From then on every entry of the journal is sealed in a batch, and every fact that an entry speaks of is sealed as it
stands after it. A batch comes before each seal and with the check of every day, and not with each entry: the journal
has many writers, and each of them would wait for the chain.
"""

import hashlib
import json
import uuid
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import rfc8785
from django.db import transaction

from grading.evidence import chain
from grading.evidence.chain import NewLink
from grading.evidence.fact_payloads import FACT_KINDS, KINDS_BY_LABEL, FactKind
from grading.evidence.lesson_payload import FORMAT, utc_timestamp
from grading.models import Seal
from school.models import JournalEntry

REGISTER = uuid.UUID("7b0c3f0e-5a0c-4d57-9c55-6a1d2f3e4b50")  # any constant: there is one register
ENTRIES_PER_SEAL = 5000
# A key that is missing may belong to a transaction that has not ended. None lasts longer than this.
LONGEST_TRANSACTION = timedelta(days=1)


def is_open() -> bool:
    return Seal.objects.filter(kind=Seal.Kind.REGISTER, subject=REGISTER).exists()


@transaction.atomic
def open_register(at: datetime) -> bool:
    """Seal every fact and every entry of the journal as found, once; return whether this call did it."""
    chain.lock_chain()
    if is_open():
        return False
    facts = [
        _fact_link(kind, row, at, [], as_found=True)
        for kind in FACT_KINDS
        for row in kind.rows().order_by("pk").iterator()
    ]
    chain.append(facts, at)
    entries = _seal_journal(JournalEntry.objects.order_by("pk").iterator(), 0, {}, at)
    record = {
        "format": FORMAT,
        "record": "opening of the register",
        "facts": len(facts),
        "entries": entries,
        "at": utc_timestamp(at),
    }
    chain.append([NewLink(Seal.Kind.REGISTER, REGISTER, record)], at)
    return True


@transaction.atomic
def open_or_catch_up(at: datetime) -> None:
    """Open the register, or seal what came since the last batch."""
    if not open_register(at):
        catch_up(at)


def catch_up(at: datetime, **signal: Any) -> None:
    """Seal the facts and the entries of the journal that came since the last batch, under the lock of the chain."""
    if not is_open():
        return
    last, gaps = _last_batch()
    entries = list(JournalEntry.objects.filter(pk__gt=last).order_by("pk"))
    if gaps:
        entries = [*JournalEntry.objects.filter(pk__in=gaps).order_by("pk"), *entries]
    chain.append(list(_changed_facts(entries, at)), at)
    _seal_journal(iter(entries), last, gaps, at)


def entry_digest(entry: JournalEntry) -> str:
    """Return the first 32 hex digits of the SHA-256 of an entry's RFC 8785 text."""
    record = {
        "id": entry.pk,
        "at": entry.at.astimezone(UTC).isoformat(),
        "person": entry.person_id,
        "name": entry.person_name,
        "what": entry.what,
        "kind": entry.subject_kind,
        "subject": entry.subject_id,
        "about": entry.about_id,
        "label": entry.subject_label,
        "before": entry.before,
        "after": entry.after,
    }
    return hashlib.sha256(rfc8785.dumps(record)).hexdigest()[:32]


def _seal_journal(entries: Iterator[JournalEntry], last: int, gaps: dict[int, datetime], at: datetime) -> int:
    """Seal entries in batches; `gaps`: keys up to `last` that were missing, by when they were first missed."""
    rows = [(entry.pk, entry_digest(entry)) for entry in entries]
    for start in range(0, len(rows), ENTRIES_PER_SEAL):
        batch = rows[start : start + ENTRIES_PER_SEAL]
        keys = {pk for pk, _ in batch}
        upto = max(last, *keys)
        # A sequence leaves a gap where a transaction was undone, and for a moment where one has not ended yet.
        gaps = {pk: since for pk, since in gaps.items() if pk not in keys and at - since < LONGEST_TRANSACTION}
        # Before the first batch nobody knows what was missing when: those are no gaps that an entry may still fill.
        if last:
            gaps |= {pk: at for pk in range(last + 1, upto) if pk not in keys}
        record = {
            "format": FORMAT,
            "record": "entries of the journal",
            "after": last,
            "upto": upto,
            "entries": [[pk, digest] for pk, digest in batch],
            "missing": [[pk, utc_timestamp(since)] for pk, since in sorted(gaps.items())],
            "at": utc_timestamp(at),
        }
        chain.append([NewLink(Seal.Kind.JOURNAL, uuid.uuid4(), record)], at)
        last = upto
    return len(rows)


def _last_batch() -> tuple[int, dict[int, datetime]]:
    """Return the highest key that a batch covers, and the keys below it that may still come."""
    # From the end of the chain, where the last batch is: a batch stands before every record.
    batch = Seal.objects.filter(kind=Seal.Kind.JOURNAL).order_by("-number").first()
    if batch is None:
        return 0, {}
    record = sealed_record(batch)
    return record["upto"], {pk: datetime.fromisoformat(since) for pk, since in record["missing"]}


def sealed_record(seal: Seal) -> dict[str, Any]:
    """Return the record of a seal as plain values."""
    record: dict[str, Any] = json.loads(seal.canonical)
    return record


def _changed_facts(entries: Iterable[JournalEntry], at: datetime) -> Iterator[NewLink]:
    """Yield a link for each fact that these entries speak of and that differs from its last seal."""
    spoken: dict[str, dict[int, list[int]]] = {label: {} for label in KINDS_BY_LABEL}
    for entry in entries:
        if entry.subject_kind in spoken:
            spoken[entry.subject_kind].setdefault(entry.subject_id, []).append(entry.pk)
    for label, accounts in spoken.items():
        if not accounts:
            continue
        kind = KINDS_BY_LABEL[label]
        links = [
            _fact_link(kind, row, at, accounts[row.pk]) for row in kind.rows().filter(pk__in=accounts).order_by("pk")
        ]
        seals = Seal.objects.filter(kind=Seal.Kind.FACT, subject__in=[link.subject for link in links])
        last = {seal.subject: seal for seal in seals.order_by("subject", "-number").distinct("subject")}
        for link in links:
            before = last.get(link.subject)
            # One that was erased has no text to compare with.
            known = sealed_record(before)["values"] if before and before.canonical else None
            if known != link.record["values"]:
                yield link


def current_values(kind: FactKind, row: Any) -> dict[str, Any]:
    """Return the values of a fact as a reader of its seal gets them."""
    values: dict[str, Any] = json.loads(rfc8785.dumps(kind.describe(row)))
    return values


def _fact_link(kind: FactKind, row: Any, at: datetime, accounts: list[int], as_found: bool = False) -> NewLink:
    record = {
        "format": FORMAT,
        "record": "fact",
        "fact": kind.name,
        "row": row.pk,
        "values": current_values(kind, row),
        "entries": accounts,
        "at": utc_timestamp(at),
    }
    # Said in the text itself: what stood before the register was opened, nobody vouches for.
    found = {"as_found": True} if as_found else {}
    return NewLink(Seal.Kind.FACT, kind.subject(row.pk), record | found)
