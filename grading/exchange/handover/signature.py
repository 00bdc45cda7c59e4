"""Sign the manifest of a hand-over file (SHA256SUMS), where the school has a key.

Two lines: the certificate (DER, base64), and the signature over the manifest (ECDSA with SHA-256, base64). It proves
which key made the file; a person asks the school it came from whose key that is.
"""

import base64
import binascii
from dataclasses import dataclass
from datetime import datetime

from cryptography import x509
from cryptography.hazmat.primitives import serialization

from school.errors import Refusal
from school.signing_keys import certificate_fingerprint, is_valid_signature, school_key


@dataclass(frozen=True)
class SignatureCheck:
    """The outcome of checking a signature, in words for the person who imports the file.

    `fingerprint`: the SHA-256 of the certificate of a signature that holds, in hex.
    """

    words: str
    holds: bool | None = None
    fingerprint: str = ""


def sign_manifest(manifest: bytes, at: datetime) -> bytes | None:
    """Return a detached signature over these bytes, or None where the school has no key."""
    try:
        key = school_key(at)
    # The record is handed over without one: a student's right to it does not depend on the school's key.
    except Refusal:
        return None
    certificate = base64.b64encode(key.certificate.public_bytes(serialization.Encoding.DER)).decode()
    return f"{certificate}\n{key.sign(manifest)}\n".encode()


def check_signature(manifest: bytes, signature: bytes | None) -> SignatureCheck:
    """Check a signature. `holds` is None without one (the fingerprints are still checked), False for a changed file."""
    if signature is None:
        return SignatureCheck("Not signed by the school that made it: checked by its fingerprints alone.")
    try:
        first, second = signature.decode("ascii").split()
        # The certificate comes with the file, so it proves that nothing was changed and not who signed: the words below
        # ask a person to find out.
        certificate = x509.load_der_x509_certificate(base64.b64decode(first, validate=True))
    except (ValueError, binascii.Error):
        return SignatureCheck("Its signature cannot be read.", holds=False)
    pem = certificate.public_bytes(serialization.Encoding.PEM).decode()
    if not is_valid_signature(manifest, second, pem):
        return SignatureCheck("Its signature is broken: the file was changed after signing.", holds=False)
    fingerprint = certificate_fingerprint(certificate)
    # Whole: a certificate whose first figures are those of another can be made.
    words = f"Signed, and unchanged since, with certificate {fingerprint}: ask the school that made it whose that is."
    return SignatureCheck(words, holds=True, fingerprint=fingerprint)
