"""Compare facts and journal with the register: what stands now, what changed without an account, what was inserted."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any, NamedTuple

from grading.evidence import register
from grading.evidence.audit.comparison import describe_differences
from grading.evidence.fact_payloads import FACT_KINDS, KINDS_BY_LABEL, KINDS_BY_NAME, FactKind
from grading.models import Seal
from school.models import JournalEntry

NOT_OPEN = "The register is not open yet: facts and journal are not sealed. The daily check opens it."


class RegisterFinding(NamedTuple):
    number: int | None
    words: str


class RegisterWalk:
    """Walk along the seals of the register in the order of the chain, then compare the last ones with the tables."""

    def __init__(self) -> None:
        self.open = register.is_open()
        self._facts: dict[Any, Seal] = {}
        self._upto = 0
        self._sealed_at: datetime | None = None
        # Keys that were missing and that no batch has filled; those that the last batch still waits for.
        self._missing: set[int] = set()
        self._awaited: set[int] = set()

    def step(self, link: Seal) -> list[RegisterFinding]:
        if not link.canonical:
            # Erased: the row is gone, or stands without what was in it.
            if link.kind == Seal.Kind.FACT:
                self._facts[link.subject] = link
            return []
        if link.kind == Seal.Kind.FACT:
            before, self._facts[link.subject] = self._facts.get(link.subject), link
            return list(_unaccounted_changes(before, link))
        return list(self._batch(link)) if link.kind == Seal.Kind.JOURNAL else []

    def end(self) -> Iterator[RegisterFinding]:
        """Yield what the tables hold now and the register does not, or otherwise."""
        if not self.open:
            return
        inserted = JournalEntry.objects.filter(pk__in=self._missing - self._awaited)
        for entry in inserted.order_by("pk"):
            yield RegisterFinding(None, f"journal entry {entry.pk} ({entry.what}): it was inserted later")
        pending = self._pending_facts()
        for kind in FACT_KINDS:
            yield from self._compare_rows(kind, pending)

    @property
    def pending(self) -> int:
        """Count the entries of the journal that no batch covers yet."""
        return JournalEntry.objects.filter(pk__gt=self._upto).count() if self.open else 0

    def _batch(self, link: Seal) -> Iterator[RegisterFinding]:
        record = register.sealed_record(link)
        digests = dict(record["entries"])
        rows = {entry.pk: entry for entry in JournalEntry.objects.filter(pk__in=digests)}
        for pk, digest in digests.items():
            if pk not in rows:
                yield RegisterFinding(link.number, f"journal entry {pk} is gone")
            elif register.entry_digest(rows[pk]) != digest:
                yield RegisterFinding(link.number, f"journal entry {pk} ({rows[pk].what}) was altered")
        yield from self._dated_back(link, rows.values())
        self._sealed_at = link.sealed_at
        if self._upto:
            # Every key between two batches is in one of them, or was missing then.
            known = digests.keys() | {pk for pk, _ in record["missing"]}
            between = JournalEntry.objects.filter(pk__gt=record["after"], pk__lte=record["upto"]).exclude(pk__in=known)
            for entry in between.order_by("pk"):
                yield RegisterFinding(link.number, f"journal entry {entry.pk} ({entry.what}): it was inserted later")
        self._awaited = {pk for pk, _ in record["missing"]}
        self._missing = (self._missing - digests.keys()) | self._awaited
        self._upto = record["upto"]

    def _dated_back(self, link: Seal, entries: Iterable[JournalEntry]) -> Iterator[RegisterFinding]:
        """Yield the entries that are dated before the batch before theirs, which would have held them."""
        if self._sealed_at is None:
            return
        for entry in entries:
            if entry.at < self._sealed_at - register.LONGEST_TRANSACTION:
                words = f"journal entry {entry.pk} ({entry.what}): it is dated back to {entry.at:%Y-%m-%d %H:%M} UTC"
                yield RegisterFinding(link.number, words)

    def _pending_facts(self) -> set[tuple[str, int]]:
        entries = JournalEntry.objects.filter(pk__gt=self._upto, subject_kind__in=KINDS_BY_LABEL)
        return set(entries.values_list("subject_kind", "subject_id"))

    def _compare_rows(self, kind: FactKind, pending: set[tuple[str, int]]) -> Iterator[RegisterFinding]:
        standing = set()
        for row in kind.rows().order_by("pk").iterator(chunk_size=500):
            link = self._facts.get(subject := kind.subject(row.pk))
            standing.add(subject)
            if (kind.label, row.pk) in pending:
                continue
            if link is None:
                yield RegisterFinding(None, f"{kind.name} {row}: it has no seal")
            elif link.canonical:
                sealed = register.sealed_record(link)["values"]
                for sentence in describe_differences(sealed, register.current_values(kind, row)):
                    yield RegisterFinding(link.number, f"{kind.name} {row}: {sentence}")
        for subject, link in self._facts.items():
            if link.canonical and subject not in standing:
                record = register.sealed_record(link)
                if record["fact"] == kind.name:
                    yield RegisterFinding(link.number, f"{kind.name} {record['row']}: the record itself is gone")


def _unaccounted_changes(before: Seal | None, link: Seal) -> Iterator[RegisterFinding]:
    """Yield the values that changed from one seal of a fact to the next and that no act of the journal may change."""
    now = register.sealed_record(link)
    kind = KINDS_BY_NAME[now["fact"]]
    accounts = [
        entry
        for entry in JournalEntry.objects.filter(pk__in=now["entries"])
        if (entry.subject_kind, entry.subject_id) == (kind.label, now["row"])
    ]
    if before is None or not before.canonical:
        return
    was = register.sealed_record(before)["values"]
    allowed = {name for entry in accounts for name in kind.changed_by(entry)}
    for name in sorted(was.keys() | now["values"].keys()):
        if was.get(name) != now["values"].get(name) and name not in allowed:
            words = f"{name} was {was.get(name)}, is {now['values'].get(name)}, and the journal does not say why"
            yield RegisterFinding(link.number, f"{kind.name} {now['row']}: {words}")
