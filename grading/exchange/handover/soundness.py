"""Check a hand-over file, and each record in it against its fingerprint and its seal.

Knows neither Django nor the database: it runs in a process of its own (school.file_reader).
"""

import hashlib
import json

import rfc8785

from grading.exchange.handover import archive
from grading.exchange.handover.record_format import BadRecord, RecordEntry, RecordFile, decode_record

# A file that was altered throughout would otherwise fill the page; twenty show what kind of file it is.
MAX_PROBLEMS = 20


def find_file_problems(content: bytes) -> list[str]:
    """Return what is wrong with a hand-over file, a sentence each; nothing for a sound one."""
    try:
        return find_problems(decode_record(archive.open_archive(content)[archive.RECORD]))
    except BadRecord as bad:
        return bad.problems


def text_fingerprint(canonical: str) -> str:
    """Return the SHA-256 of the text in UTF-8, as 64 hex digits."""
    return hashlib.sha256(canonical.encode()).hexdigest()


def seal_digest(previous: str, canonical: str) -> str:
    """Return the digest of a seal, computed as in grading/evidence/chain.py."""
    return hashlib.sha256(f"{previous}\n{canonical}".encode()).hexdigest()


def find_problems(record: RecordFile) -> list[str]:
    """Return what contradicts itself in the records, with the path of each; only the first when there are many."""
    problems: list[str] = []
    for path, row in record.all_records:
        problems += [f"{path}: {sentence}" for sentence in _record_problems(row)]
    seals = [row.seal for row in record.records]
    if None in seals:
        problems.append("records: one record of the sending school has no seal.")
    # Order and uniqueness are asked because the numbers come from one chain: anything else was put together later.
    elif seals != sorted(set(seals), key=lambda seal: seal or 0):
        problems.append("records: they are not in the order of their seals, each once.")
    found = [row.fingerprint for _, row in record.all_records]
    if len(set(found)) < len(found):
        problems.append("The same record is in the file twice.")
    return problems[:MAX_PROBLEMS]


def _record_problems(row: RecordEntry) -> list[str]:
    if text_fingerprint(row.canonical) != row.fingerprint:
        return ["its text does not give its fingerprint: it was altered after it was sealed."]
    # The fingerprint alone could be computed again by a forger; so could this, but a copy of the chain contradicts it.
    if row.seal is not None and seal_digest(row.previous, row.canonical) != row.digest:
        return ["its text does not give the digest of its seal: it was altered, or belongs to another seal."]
    try:
        value = json.loads(row.canonical)
        # A text with one key twice has a valid fingerprint and can be read in two ways; the canonical form rules it
        # out.
        same = isinstance(value, dict) and rfc8785.dumps(value).decode() == row.canonical
    # Deep nesting is refused like any other text that no school sealed.
    except (ValueError, RecursionError, rfc8785.CanonicalizationError):
        same = False
    return [] if same else ["its text is not in the canonical form (RFC 8785) that records are sealed in."]
