"""What is attached to a printed sheet, and what is sealed of it."""

import hashlib
from typing import Any

import rfc8785

from grading.evidence.lesson_payload import FORMAT, utc_timestamp
from grading.models import Sheet


def build_sheet_payload(sheet: Sheet) -> dict[str, Any]:
    """What is sealed of a sheet: which it is, the fingerprint of its content, the digest of its bytes."""
    return {
        "format": FORMAT,
        "record": "printed sheet",
        "id": str(sheet.uid),
        "kind": sheet.kind,
        "number": sheet.number,
        "fingerprint": content_fingerprint(sheet.content),
        "file": sheet.digest,
        "at": utc_timestamp(sheet.printed_at),
    }


def canonical_bytes(content: dict[str, Any]) -> bytes:
    """The record of a sheet as it is attached to the file: RFC 8785 text."""
    return rfc8785.dumps(content)


def content_fingerprint(content: dict[str, Any]) -> str:
    """64 hex digits, as printed."""
    return hashlib.sha256(canonical_bytes(content)).hexdigest()
