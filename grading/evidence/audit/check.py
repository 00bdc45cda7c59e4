"""Check the chain, every record against its seal, every row that must have a seal, and the printed sheets.

The check reads a batch of seals at a time, and each kind of record in a fixed number of queries a batch.
"""

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any

from django.conf import settings
from django.db import transaction

from grading.evidence.audit import missing_seals, printed_heads
from grading.evidence.audit.account_audit import AccountAudit
from grading.evidence.audit.comparison import describe_differences
from grading.evidence.audit.database_guards import guard_findings, role_findings
from grading.evidence.audit.printed_heads import WitnessedHeads
from grading.evidence.audit.rebuilders import REBUILDERS
from grading.evidence.audit.register_audit import NOT_OPEN, RegisterWalk
from grading.evidence.chain import ChainWalk, iterate_chain
from grading.evidence.lesson_payload import utc_timestamp
from grading.models import RecordCheck, Seal
from lessons import published_content
from school import journal
from school.fragment_cache import fragments
from school.models import Person

# More would need more memory, fewer more queries: every kind of record costs a fixed number of queries a batch.
BATCH_SIZE = 250
# A chain that was written again gives a finding for each seal; the number of all findings is stored beside these.
MAX_STORED_FINDINGS = 200
REGISTER_KINDS = {Seal.Kind.FACT, Seal.Kind.JOURNAL, Seal.Kind.REGISTER}


@dataclass(frozen=True)
class AuditFinding:
    """One finding in a sentence; `number` is the seal that it is about, None where there is none."""

    number: int | None
    words: str

    def __str__(self) -> str:
        return f"seal {self.number}: {self.words}" if self.number else self.words


@dataclass
class AuditReport:
    """The result of a check: findings in the order of the chain first, then those outside the chain."""

    seals: int = 0
    head: str = ""
    findings: list[AuditFinding] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def first(self) -> AuditFinding | None:
        return next(iter(self.findings), None)


def audit_records() -> AuditReport:
    """Compare every record with its seal and its printed sheets, without writing anything."""
    # What is published cannot change unless somebody got past the guards, and that is what is looked for: whatever
    # this process read before must be read again, for the audit itself and for the pages that are looked at after it.
    published_content.clear()
    fragments.clear()
    # The witnesses are read before the first seal. A sheet that is printed meanwhile then cannot name a seal that this
    # walk has not read.
    report, heads, walk, register = AuditReport(), WitnessedHeads(), ChainWalk(), RegisterWalk()
    accounts = AccountAudit()
    uncompared: dict[str, int] = defaultdict(int)
    chain = iterate_chain()
    while batch := list(islice(chain, BATCH_SIZE)):
        for link in batch:
            report.findings += [AuditFinding(broken.number, broken.why) for broken in walk.step(link)]
            for who in heads.contradicting_witnesses(link.number, link.digest):
                report.findings.append(AuditFinding(link.number, f"{who} says another fingerprint"))
            report.findings += [AuditFinding(*row) for row in register.step(link)]
        report.findings += _compare_batch(batch, uncompared)
        report.findings += [AuditFinding(*row) for row in accounts.batch(batch)]
    report.findings += [AuditFinding(broken.number, broken.why) for broken in walk.end()]
    report.findings += [AuditFinding(*row) for row in (*register.end(), *accounts.end())]
    report.findings += [
        AuditFinding(number, f"it is gone, though {who} says it was there")
        for number, who in heads.heads_beyond_chain()
    ]
    # Stable, so findings about one seal stay in order; `first` must be the earliest place where the chain differs.
    report.findings.sort(key=lambda finding: finding.number or 0)
    for sentences in (
        missing_seals.unsealed_rows(),
        missing_seals.signature_mismatches(),
        printed_heads.altered_sheets(),
    ):
        report.findings += [AuditFinding(None, sentence) for sentence in sentences]
    report.seals, report.head = walk.count, walk.digest
    if heads.outside is None and settings.SEAL_HEAD_FILE and walk.count:
        report.notes.append("No head of the chain is kept outside the database: SEAL_HEAD_FILE is not there.")
    report.notes += [*_notes(heads.without, uncompared), *_register_notes(register), *accounts.notes()]
    return report


@transaction.atomic
def run_audit(by: Person | None, at: datetime) -> RecordCheck:
    """Check the records and the guards of the database, and store the result; `by` is None for the daily job."""
    report = audit_records()
    # Switched off guards change no record, but without them a record can be changed: the same audit reports both.
    found = [*map(str, report.findings), *guard_findings(), *role_findings()]
    # The head is stored with the audit: a chain that is written again later contradicts this row too.
    kept = RecordCheck.objects.create(
        at=at,
        by=by,
        seals=report.seals,
        head=report.head,
        found=len(found),
        findings=found[:MAX_STORED_FINDINGS],
        notes=report.notes,
    )
    after = {"seals": report.seals, "found": len(found)}
    journal.record(by=by, at=at, what="records checked", subject=kept, after=after)
    return kept


def compare_head(number: int, digest: str) -> str | None:
    """Return how a printed head contradicts the chain, or None; spaces in the digest do not matter."""
    given = "".join(digest.split()).lower()
    link = Seal.objects.filter(number=number).only("digest").first()
    if link is None:
        return f"There is no seal {number} in the chain: records were removed since the paper was printed."
    if link.digest != given:
        return f"Seal {number} is {link.digest} in the chain: records were changed since the paper was printed."
    return None


def _compare_batch(batch: list[Seal], uncompared: dict[str, int]) -> Iterator[AuditFinding]:
    kinds: dict[str, list[Seal]] = defaultdict(list)
    for link in batch:
        if link.canonical:  # an erased one has nothing to compare; Walk asks for its erasure
            kinds[link.kind].append(link)
    for kind, links in kinds.items():
        # Counted and reported as a note: an audit must not claim to have compared what it did not compare.
        if kind in REGISTER_KINDS:
            continue  # compared by RegisterWalk
        if kind not in REBUILDERS:
            uncompared[kind] += len(links)
            continue
        rebuilt = REBUILDERS[kind]({link.subject for link in links})
        for link in links:
            yield from _compare_seal(link, rebuilt.get(link.subject))


def _compare_seal(link: Seal, rebuilt: dict[str, Any] | None) -> Iterator[AuditFinding]:
    try:
        sealed = json.loads(link.canonical)
    except ValueError:
        return  # Walk has found that its text was altered
    name = f"{Seal.Kind(link.kind).label} {_label(sealed)}".strip()
    if rebuilt is None:
        yield AuditFinding(link.number, f"{name}: the record itself is gone")
        return
    if link.kind == Seal.Kind.SHEET:
        content = rebuilt.pop("content")
        if sealed.get("record") == "progress sheet":  # sheets were sealed so at first: whole, without their bytes
            sealed = {key: value for key, value in sealed.items() if key not in ("format", "record")}
            rebuilt = {key: value for key, value in content.items() if key in sealed}
    for sentence in describe_differences(sealed, rebuilt):
        yield AuditFinding(link.number, f"{name}: {sentence}")
    # The digest covers the text and not the column `sealed_at`, so an altered column shows only against the text.
    said = _time_in_record(sealed)
    if said is not None and said != utc_timestamp(link.sealed_at):
        yield AuditFinding(
            link.number, f"{name}: it is dated {utc_timestamp(link.sealed_at)}, and its text says {said}"
        )


def _label(sealed: dict[str, Any]) -> str:
    number = f"{sealed['number']} " if isinstance(sealed.get("number"), int) else ""
    student = sealed.get("student")
    return f"{number}of {student['name']}" if isinstance(student, dict) else number.strip()


def _time_in_record(sealed: dict[str, Any]) -> Any:
    signature = sealed.get("signature")
    signed = signature.get("signed_at") if isinstance(signature, dict) else None
    return signed or sealed.get("at") or sealed.get("printed_at")


def _register_notes(register: RegisterWalk) -> list[str]:
    # An empty database has nothing to seal, and a school that was just opened has its register.
    if not register.open:
        return [NOT_OPEN] if Person.objects.exists() else []
    return [f"{register.pending} entries of the journal wait for the next batch."] if register.pending else []


def _notes(without_head: int, uncompared: dict[str, int]) -> list[str]:
    notes = [
        f"{count} sealed as “{Seal.Kind(kind).label}”: there is no row to compare with, only the chain was checked."
        for kind, count in sorted(uncompared.items())
    ]
    if without_head:
        notes.append(f"{without_head} printed sheets carry no head of the chain: they bear no witness to it.")
    return notes
