"""The head of the chain, signed by the school: printed on paper, it contradicts a chain that is written anew."""

from datetime import datetime
from typing import Any

from grading.evidence import chain
from grading.evidence.lesson_payload import moment
from school.keys import SchoolKey, signature_holds
from school.models import SigningCertificate


def signed_head(key: SchoolKey, at: datetime) -> dict[str, Any] | None:
    """The last seal there is, with the school's signature over it; None while nothing is sealed."""
    last = chain.head()
    if last is None:
        return None
    head = {"number": last.number, "digest": last.digest, "at": moment(at)}
    return head | {"signature": key.sign(head_text(head)), "certificate": key.fingerprint}


def head_text(head: dict[str, Any]) -> bytes:
    """What is signed: four lines, each ended by a line feed."""
    return f"head of the chain\n{head['number']}\n{head['digest']}\n{head['at']}\n".encode()


def head_holds(head: dict[str, Any]) -> bool:
    """Whether the signature is the school's, by a certificate on record."""
    certificate = SigningCertificate.objects.filter(fingerprint=head.get("certificate", "")).first()
    return certificate is not None and signature_holds(head_text(head), head["signature"], certificate.pem)
