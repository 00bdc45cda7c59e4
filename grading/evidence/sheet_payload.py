"""Build what is attached to a printed sheet, and what is sealed about it."""

import hashlib
from typing import Any

import rfc8785

from grading.evidence.lesson_payload import FORMAT, utc_timestamp
from grading.models import Sheet


def build_sheet_payload(sheet: Sheet) -> dict[str, Any]:
    """Build what is sealed about a sheet: its identity, the fingerprint of its content, the digest of its bytes."""
    return {
        "format": FORMAT,
        "record": "printed sheet",
        "id": str(sheet.uid),
        "kind": sheet.kind,
        "number": sheet.number,
        # Two digests, because a file cannot bear its own: paper shows that of the content, and that of the bytes is
        # only sealed.
        "fingerprint": content_fingerprint(sheet.content),
        "file": sheet.digest,
        "at": utc_timestamp(sheet.printed_at),
    }


def canonical_bytes(content: dict[str, Any]) -> bytes:
    """Return the record of a sheet as it is attached to the file: RFC 8785 text."""
    return rfc8785.dumps(content)


def content_fingerprint(content: dict[str, Any]) -> str:
    """Return the fingerprint as printed, 64 hex digits."""
    return hashlib.sha256(canonical_bytes(content)).hexdigest()
