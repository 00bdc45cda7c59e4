"""Verify that a file is an unaltered sheet of this school, by the file, the chain and the stored certificates.

A file that was printed here is known by its SHA-256. Any other is read in a process of its own within limits
(school.file_reader), because anybody may have made it.
"""

import hashlib
import json
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from django.core.exceptions import ValidationError

from grading.evidence.chain import link_digest
from grading.evidence.sheet_payload import canonical_bytes, content_fingerprint
from grading.models import Seal, Sheet
from grading.sheets.pdf_inspection import PdfInspection
from school.file_reader import UnreadableFile, read_file
from school.models import SigningCertificate

PDF_READER = "grading.sheets.pades:describe_pdf"


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


def verify(pdf: bytes, *, patience: float = 0.0) -> Verification:
    """Verify the bytes of a file; raise ReadersBusy if none of its readers is free within `patience` seconds."""
    digest = hashlib.sha256(pdf).hexdigest()
    stored = Sheet.objects.filter(digest=digest).select_related("printed_by").defer("pdf").first()
    if stored is not None:
        return _verify_stored(stored)
    try:
        said = PdfInspection(**read_file(PDF_READER, pdf, patience=patience))
    except UnreadableFile as unreadable:
        return Verification(Authenticity.NOT_OURS, (str(unreadable), "No sheet that was printed here is this file."))
    if not said.readable:
        return Verification(Authenticity.NOT_OURS, ("This is not a PDF file that can be read.",))
    return _verify_strange(said)


def _verify_stored(sheet: Sheet) -> Verification:
    """Judge a file whose bytes are stored here; nothing in it is read."""
    wrong = tuple(_chain_problems(sheet))
    if wrong:
        return Verification(Authenticity.ALTERED, wrong, sheet)
    return Verification(Authenticity.GENUINE, _proofs(sheet), sheet)


def _verify_strange(said: PdfInspection) -> Verification:
    """Judge a file whose bytes are not stored here: an altered sheet, or none of this school."""
    sheet = _claimed_sheet(said.record)
    certificate = SigningCertificate.objects.filter(fingerprint=said.certificate).first()
    if sheet is None:
        return Verification(Authenticity.NOT_OURS, _reasons_not_ours(said, certificate))
    # All problems and not the first alone: which of them occur together tells how a file was forged.
    wrong = [*_signature_problems(said, certificate), *_record_problems(said, sheet), *_chain_problems(sheet)]
    wrong.append("Its bytes are not those that were printed and kept.")
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
        return (why, "Yet it bears a certificate of this school: tell the school's administrator.")
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
    if sealed.get("fingerprint") != content_fingerprint(sheet.content):
        wrong.append(f"Seal {seal.number} was set over another record than the one that is kept.")
    return wrong


def _is_broken(seal: Seal) -> bool:
    return seal.digest != link_digest(seal.previous, seal.canonical)


def _proofs(sheet: Sheet) -> tuple[str, ...]:
    proofs = (
        "Byte for byte it is the file that was printed, signed and kept here.",
        "Its seal in the chain holds, over the file and over its record.",
    )
    if sheet.content.get("demonstration"):
        return (*proofs, "But the certificate is for demonstration only and proves nothing.")
    return proofs
