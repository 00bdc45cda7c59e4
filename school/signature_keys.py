"""Prove that this installation made a signature, by a key that is not in its database.

The proof is an HMAC-SHA256 (RFC 2104, FIPS 198-1, both from memory) over the id of the signature, its person, its
moment and the digest of the signed record. Whoever holds the database alone, or a copy, cannot make one.
"""

import hashlib
import hmac
from collections.abc import Iterator
from datetime import UTC, datetime
from uuid import UUID

from django.conf import settings

PURPOSE = b"training record: signatures, 1"
KEY_NAME_LENGTH = 8


def make_proof(uid: UUID, person: int, at: datetime, record: str) -> str:
    """Return 'name of the key:HMAC in hex' for a signature over the RFC 8785 text of a record."""
    name, key = next(_keys())
    return f"{name}:{_compute(key, uid, person, at, record)}"


def is_proof_valid(proof: str, uid: UUID, person: int, at: datetime, record: str) -> bool:
    """Return whether a proof is by a key of this installation and over these values."""
    name, _, given = proof.partition(":")
    return any(
        name == known and hmac.compare_digest(given, _compute(key, uid, person, at, record)) for known, key in _keys()
    )


def key_names() -> list[str]:
    """Return the names of the keys at hand, the one in use first."""
    return [name for name, _ in _keys()]


def key_name(proof: str) -> str:
    return proof.partition(":")[0]


def _keys() -> Iterator[tuple[str, bytes]]:
    for secret in settings.SIGNATURE_KEYS:
        # Derived for this purpose alone: where the secret also signs sessions, neither can be made of the other.
        key = hmac.digest(secret.encode(), PURPOSE, "sha256")
        yield hashlib.sha256(key).hexdigest()[:KEY_NAME_LENGTH], key


def _compute(key: bytes, uid: UUID, person: int, at: datetime, record: str) -> str:
    digest = hashlib.sha256(record.encode()).hexdigest()
    text = f"{uid}\n{person}\n{at.astimezone(UTC).isoformat()}\n{digest}\n"
    return hmac.digest(key, text.encode(), "sha256").hex()
