"""Sign the head of the chain for the school: printed on paper, it contradicts a chain that is written a second time."""

from datetime import datetime
from typing import Any

from grading.evidence import chain
from grading.evidence.lesson_payload import utc_timestamp
from school.models import SigningCertificate
from school.signing_keys import SchoolKey, is_valid_signature


def sign_chain_head(key: SchoolKey, at: datetime) -> dict[str, Any] | None:
    """Return the last seal with the school's signature over it; None while nothing is sealed."""
    last = chain.head()
    if last is None:
        return None
    head = {"number": last.number, "digest": last.digest, "at": utc_timestamp(at)}
    return head | {"signature": key.sign(chain_head_bytes(head)), "certificate": key.fingerprint}


def chain_head_bytes(head: dict[str, Any]) -> bytes:
    """Return the signed bytes: four lines, each ended by a line feed."""
    # Plain lines that anybody can write and check with the certificate alone; .docs/audit.md publishes them, so sheets
    # on paper depend on this form.
    return f"head of the chain\n{head['number']}\n{head['digest']}\n{head['at']}\n".encode()


def is_head_signature_valid(head: dict[str, Any]) -> bool:
    """Return whether the signature is the school's, by a certificate on record."""
    # By a certificate of the school's own list: a certificate that travels with the head would prove nothing about the
    # school.
    certificate = SigningCertificate.objects.filter(fingerprint=head.get("certificate", "")).first()
    return certificate is not None and is_valid_signature(chain_head_bytes(head), head["signature"], certificate.pem)
