"""The chain of seals: each record that became final, in canonical form, linked to the one before.

digest = SHA-256( previous digest + line feed + RFC 8785 text of the record ), in hex. Removing,
changing or swapping a link breaks every later digest; the head is printed on each sheet, so that a
chain written anew contradicts the paper.

The text of a link may be gone once it need not be kept any more: then a later link of kind ERASURE names it.
"""

import hashlib
import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import rfc8785
from django.db import connection, transaction

from grading.models import Seal

# Any constant: it names the lock under which the chain grows by one link at a time.
CHAIN_LOCK = 6_187_141


@dataclass(frozen=True)
class Broken:
    """The first link that does not hold, and why."""

    number: int
    why: str


@transaction.atomic
def seal(*, kind: Seal.Kind, subject: uuid.UUID, record: dict[str, Any], at: datetime) -> Seal:
    """Append a record to the chain. Concurrent callers wait for each other until commit."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [CHAIN_LOCK])
    last = Seal.objects.order_by("-number").first()
    previous = last.digest if last else ""
    canonical = rfc8785.dumps(record).decode()
    return Seal.objects.create(
        number=last.number + 1 if last else 1,
        kind=kind,
        subject=subject,
        canonical=canonical,
        previous=previous,
        digest=digest_of(previous, canonical),
        sealed_at=at,
    )


def digest_of(previous: str, canonical: str) -> str:
    """64 hex digits."""
    return hashlib.sha256(f"{previous}\n{canonical}".encode()).hexdigest()


def head() -> Seal | None:
    return Seal.objects.order_by("-number").first()


def first_broken(seals: Iterator[Seal]) -> Broken | None:
    """Walk the chain from its beginning; None when every link holds.

    A link without text holds by its place in the chain once a later erasure names its number, kind and digest.
    """
    previous, expected = "", 1
    erased: dict[int, tuple[str, str]] = {}
    for link in seals:
        if link.number != expected:
            return Broken(expected, f"seal {expected} is missing: the next one found is {link.number}")
        if link.previous != previous:
            return Broken(link.number, "it does not follow the seal before it")
        if link.canonical == "":
            erased[link.number] = (link.kind, link.digest)
        elif link.digest != digest_of(previous, link.canonical):
            return Broken(link.number, "its text was altered after sealing")
        elif link.kind == Seal.Kind.ERASURE:
            for row in json.loads(link.canonical)["erased"]:
                if erased.get(row["number"]) == (row["kind"], row["digest"]):
                    del erased[row["number"]]
        previous, expected = link.digest, expected + 1
    if erased:
        return Broken(min(erased), "its text is gone and no later erasure names it")
    return None


def whole_chain() -> Iterator[Seal]:
    return Seal.objects.order_by("number").iterator(chunk_size=500)
