"""Link each record that became final, in canonical form, to the one before: the chain of seals.

digest = SHA-256( previous digest + line feed + RFC 8785 text of the record ), in hex. Removing, changing or swapping a
link breaks every later digest. The head is printed on each sheet, so that a chain that is written a second time
contradicts the paper.

The text of a link may be gone once it need not be retained any more: then a later link of kind ERASURE names it.
"""

import hashlib
import json
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple

import rfc8785
from django.conf import settings
from django.db import connection, transaction
from django.dispatch import Signal

from grading.evidence import outside_head
from grading.models import Seal
from lessons.models import Enrolment
from school.errors import Refusal

# Any constant: it names the lock under which the chain grows by one link at a time.
# An advisory lock and no row lock: before the first seal there is no row that could be locked. It ends with the
# transaction, so a process that is killed leaves none behind.
CHAIN_LOCK = 6_187_141
# Sent under the lock before a record is sealed; what a receiver seals stands before the record in the chain.
about_to_seal = Signal()


@dataclass(frozen=True)
class BrokenLink:
    """A link that does not match its neighbours or its text, with the reason."""

    number: int
    why: str


def lock_for_sealing(enrolment: Enrolment) -> None:
    """Lock the rows that the journal will refer to, the enrolments of the student, and then the chain.

    Every caller takes the locks in this order, so that no two wait for each other.
    """
    # All enrolments of the student and in the order of their keys: two callers with different enrolments of one student
    # then lock the same rows in the same order.
    mine = Enrolment.objects.select_for_update(of=("self",)).filter(student=enrolment.student_id)
    list(mine.order_by("pk").values_list("pk"))
    lock_chain()


def lock_chain() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [CHAIN_LOCK])


@transaction.atomic
def seal(*, kind: Seal.Kind, subject: uuid.UUID, record: dict[str, Any], at: datetime) -> Seal:
    """Append a record to the chain. Concurrent callers wait for each other until commit."""
    prepare(at)
    return append([NewLink(kind, subject, record)], at)[0]


def prepare(at: datetime) -> None:
    """Take the chain and seal what a record rests on: facts and journal up to now (grading/evidence/register.py)."""
    lock_chain()
    about_to_seal.send(sender=Seal, at=at)


class NewLink(NamedTuple):
    """A record that is to be sealed."""

    kind: Seal.Kind
    subject: uuid.UUID
    record: dict[str, Any]


def append(links: Iterable[NewLink], at: datetime) -> list[Seal]:
    """Append records in their order, under the lock of the chain."""
    waiting = list(links)
    if not waiting:
        return []
    lock_chain()
    # Read under the lock: two callers who read it before would give two links the same number and predecessor.
    last = head()
    _refuse_earlier_than(last, at)
    number, previous = (last.number, last.digest) if last else (0, "")
    made = []
    for place, link in enumerate(waiting, start=number + 1):
        # One text for equal values (sorted keys, one form of each number), so that anybody can compute it again.
        canonical = rfc8785.dumps(link.record).decode()
        digest = link_digest(previous, canonical)
        made.append(
            Seal(
                number=place,
                kind=link.kind,
                subject=link.subject,
                canonical=canonical,
                previous=previous,
                digest=digest,
                sealed_at=at,
            )
        )
        previous = digest
    Seal.objects.bulk_create(made, batch_size=1000)
    # Robust: the record is sealed, and a disk that is full must not say otherwise. The failure is in the log.
    transaction.on_commit(lambda: outside_head.record(made[-1]), robust=True)
    return made


def _refuse_earlier_than(last: Seal | None, at: datetime) -> None:
    """Refuse a seal dated before the last one: its moment would contradict its place in the chain."""
    if last is not None and at < last.sealed_at - _waiting_time():
        raise Refusal(
            f"The server’s clock says {at.astimezone(UTC):%Y-%m-%d %H:%M} UTC, and the last record was sealed at"
            f" {last.sealed_at.astimezone(UTC):%Y-%m-%d %H:%M} UTC. Nothing was signed or printed; what you wrote is"
            " kept. Have the clock checked, then try again."
        )


def _waiting_time() -> timedelta:
    """Return by how much a seal may be earlier than the one before it: who waits for the lock has read the clock."""
    return timedelta(seconds=settings.SEAL_WAITING_SECONDS)


def link_digest(previous: str, canonical: str) -> str:
    """Return the digest of a link, as 64 hex digits."""
    return hashlib.sha256(f"{previous}\n{canonical}".encode()).hexdigest()


def head() -> Seal | None:
    return Seal.objects.order_by("-number").first()


class ChainWalk:
    """Walk along the chain link by link, and report what does not match in each."""

    def __init__(self) -> None:
        self.previous, self.expected = "", 1
        self.count, self.digest = 0, ""
        self._latest: datetime | None = None
        self._emptied: dict[int, tuple[str, str]] = {}

    def step(self, link: Seal) -> list[BrokenLink]:
        found = []
        if link.number != self.expected:
            why = f"seal {self.expected} is missing: the next one found is {link.number}"
            found.append(BrokenLink(self.expected, why))
        # Not asked after a gap, where it cannot match: one removed link gives one finding and not two.
        elif link.previous != self.previous:
            found.append(BrokenLink(link.number, "it does not follow the seal before it"))
        if self._latest and link.sealed_at < self._latest - _waiting_time():
            found.append(BrokenLink(link.number, "it is dated before an earlier seal of the chain"))
        # The latest so far and not the one before: one seal dated too late accuses those after it, which is the pair.
        self._latest = max(self._latest or link.sealed_at, link.sealed_at)
        if not link.canonical:
            # Its digest cannot be computed again, but the next link still rests on it. The ERASURE link that explains
            # it comes later in the chain, so the answer waits until the end of the walk.
            self._emptied[link.number] = (link.kind, link.digest)
        elif link.digest != link_digest(link.previous, link.canonical):
            found.append(BrokenLink(link.number, "its text was altered after sealing"))
        elif link.kind == Seal.Kind.ERASURE:
            self._match_erasure(json.loads(link.canonical)["erased"])
        # On from the digest as stored, not as computed: otherwise one altered text would accuse every link after it.
        self.previous, self.expected = link.digest, link.number + 1
        self.count, self.digest = self.count + 1, link.digest
        return found

    def end(self) -> list[BrokenLink]:
        """Return the links whose text is empty and which no later erasure names."""
        return [
            BrokenLink(number, "its text is empty, and no later erasure names it") for number in sorted(self._emptied)
        ]

    def _match_erasure(self, erased: list[dict[str, Any]]) -> None:
        """Check that an erasure names the number, kind and digest of each seal that it emptied."""
        for row in erased:
            # All three must agree: an erasure that names a number alone would excuse any text that somebody emptied.
            if self._emptied.get(row["number"]) == (row["kind"], row["digest"]):
                del self._emptied[row["number"]]


def first_broken_link(seals: Iterable[Seal]) -> BrokenLink | None:
    """Walk the chain from its beginning; return None when every link matches."""
    walk = ChainWalk()
    for link in seals:
        if found := walk.step(link):
            return found[0]
    return next(iter(walk.end()), None)


def iterate_chain() -> Iterator[Seal]:
    # Streamed, because the texts of a whole school may not fit into memory.
    return Seal.objects.order_by("number").iterator(chunk_size=500)
