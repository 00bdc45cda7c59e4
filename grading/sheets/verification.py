"""Verify that a file is an unaltered sheet of this school, by the file, the chain and the stored certificates.

The file is read by a program of its own within limits (grading.sheets.pades), because anybody may have made it.
"""

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError

from grading.evidence.chain import link_digest
from grading.evidence.sheet_payload import canonical_bytes
from grading.models import Seal, Sheet
from grading.sheets.pdf_inspection import PdfInspection
from school.models import SigningCertificate

# Longer than the limit of processor time in pades.py: on a busy server a process gets only a part of a core.
READ_TIMEOUT_SECONDS = 60.0


class Authenticity(Enum):
    GENUINE = "genuine and unaltered"
    ALTERED = "altered"
    NOT_OURS = "not a sheet of this school"


@dataclass(frozen=True)
class Verification:
    """The answer and every reason, a sentence each; `sheet` is the stored one that the file is or claims to be."""

    answer: Authenticity
    why: tuple[str, ...]
    sheet: Sheet | None = field(default=None, compare=False)

    @property
    def genuine(self) -> bool:
        return self.answer is Authenticity.GENUINE


def verify(pdf: bytes) -> Verification:
    """Verify the bytes of a file."""
    said = inspect_in_subprocess(pdf)
    if not said.readable:
        return Verification(Authenticity.NOT_OURS, ("This is not a PDF file that can be read.",))
    sheet = _claimed_sheet(said.record)
    certificate = SigningCertificate.objects.filter(fingerprint=said.certificate).first()
    if sheet is None:
        return Verification(Authenticity.NOT_OURS, _reasons_not_ours(said, certificate))
    # All problems and not the first alone: which of them occur together tells how a file was forged.
    wrong = [*_signature_problems(said, certificate), *_record_problems(said, sheet), *_chain_problems(sheet)]
    if hashlib.sha256(pdf).hexdigest() != sheet.digest:
        wrong.append("Its bytes are not those that were printed and kept.")
    if certificate is not None and not wrong:
        return Verification(Authenticity.GENUINE, _proofs(sheet, certificate), sheet)
    # Another key means that another hand made the file, even around a genuine record.
    foreign = said.is_signed and certificate is None
    return Verification(Authenticity.NOT_OURS if foreign else Authenticity.ALTERED, tuple(wrong), sheet)


def find_by_fingerprint(fingerprint: str) -> Sheet | None:
    """Return the sheet with this printed fingerprint if its seal matches; spaces and capitals do not matter."""
    given = "".join(fingerprint.split()).lower()
    # Refused before the query: what is not a digest cannot be found, and the query searches texts.
    if len(given) != 64 or not given.isalnum():
        return None
    seal = Seal.objects.filter(kind=Seal.Kind.SHEET, canonical__contains=f'"fingerprint":"{given}"').first()
    # A sheet whose own seal was altered must not be confirmed to somebody who holds the paper.
    if seal is None or _is_broken(seal):
        return None
    return Sheet.objects.filter(uid=seal.subject).defer("pdf").first()


def inspect_in_subprocess(pdf: bytes) -> PdfInspection:
    """Return what the file says; one that costs too much time or memory counts as unreadable."""
    try:
        # A program of its own: a parser that crashes or eats memory over a hostile file must not take the server with
        # it.
        done = subprocess.run(
            [sys.executable, "-m", "grading.sheets.pades"],
            input=pdf,
            capture_output=True,
            check=False,
            cwd=settings.BASE_DIR,
            timeout=READ_TIMEOUT_SECONDS,
            env={"PATH": os.defpath, "LANG": "C.UTF-8"},  # none of the server's secrets
        )
    except subprocess.TimeoutExpired:
        return PdfInspection(readable=False)
    if done.returncode != 0:
        return PdfInspection(readable=False)
    return PdfInspection(**json.loads(done.stdout))


def _claimed_sheet(record: str | None) -> Sheet | None:
    """Return the sheet that the attached record names."""
    try:
        uid = json.loads(record or "")["id"]
        return Sheet.objects.filter(uid=uid).select_related("printed_by").defer("pdf").first()
    except (ValueError, KeyError, TypeError, ValidationError):  # whatever it is, it is no record of ours
        return None


def _reasons_not_ours(said: PdfInspection, certificate: SigningCertificate | None) -> tuple[str, ...]:
    if said.record is None:
        return ("No record is attached to it.",)
    why = "The attached record is not that of a sheet in the chain of this school."
    if certificate is not None:
        return (why, "It bears a certificate of this school all the same: tell whoever keeps its records.")
    return (why,)


def _signature_problems(said: PdfInspection, certificate: SigningCertificate | None) -> list[str]:
    if not said.is_signed:
        return ["The school's signature is missing."]
    wrong = []
    if certificate is None:
        wrong.append(f"It is signed by “{said.signer}”, with a certificate that is not one of this school.")
    if not said.holds:
        wrong.append("The signature is broken: bytes under it were changed after signing.")
    if not said.covers_all:
        wrong.append("Something was added after signing.")
    return wrong


def _record_problems(said: PdfInspection, sheet: Sheet) -> list[str]:
    assert said.record is not None
    # Bytes are compared and not values: the printed fingerprint is one of exactly these bytes.
    if said.record.encode() != canonical_bytes(sheet.content):
        return ["The attached record is not the one that was sealed."]
    return []


def _chain_problems(sheet: Sheet) -> list[str]:
    seal = Seal.objects.filter(kind=Seal.Kind.SHEET, subject=sheet.uid).first()
    if seal is None or not seal.canonical:
        return ["It has no seal in the chain."]
    sealed: dict[str, Any] = json.loads(seal.canonical)
    wrong = []
    if _is_broken(seal):
        wrong.append(f"Seal {seal.number} does not hold: the school's own record was changed.")
    # Swapping the files of two sheets together with their digests leaves both rows consistent; the seals contradict it.
    if sealed.get("file") != sheet.digest:
        wrong.append(f"Seal {seal.number} was set over another file.")
    return wrong


def _is_broken(seal: Seal) -> bool:
    return seal.digest != link_digest(seal.previous, seal.canonical)


def _proofs(sheet: Sheet, certificate: SigningCertificate) -> tuple[str, ...]:
    proofs = (
        f"Signed with the school's certificate {certificate.fingerprint[:16]}; no byte was changed since.",
        "The attached record is the one that was sealed, and its seal in the chain holds.",
    )
    if certificate.demonstration:
        return (*proofs, "But the certificate is for demonstration only and proves nothing.")
    return proofs
