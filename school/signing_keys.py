"""Read the school's key, with which it signs what it prints, and record every certificate it signs with.

On a server the key and its certificate lie in a PEM file of their own (SIGNING_KEY_FILE), made by whoever the school
trusts with that. `manage.py start` makes one for the school that it opens; anything else on this machine alone signs
with a key for demonstration, made once, whose certificate says what it is.
"""

import base64
import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings

from school import journal
from school.errors import Refusal
from school.models import SigningCertificate

DEMONSTRATION_UNIT = "Demonstration only, proves nothing"
VALIDITY_YEARS = 10


@dataclass(frozen=True)
class SchoolKey:
    """An elliptic-curve key (NIST P-256 or another) and its X.509 certificate."""

    private: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate

    @property
    def fingerprint(self) -> str:
        return certificate_fingerprint(self.certificate)

    @property
    def pem(self) -> str:
        return self.certificate.public_bytes(serialization.Encoding.PEM).decode()

    @property
    def demonstration(self) -> bool:
        units = self.certificate.subject.get_attributes_for_oid(NameOID.ORGANIZATIONAL_UNIT_NAME)
        return any(unit.value == DEMONSTRATION_UNIT for unit in units)

    def sign(self, text: bytes) -> str:
        """Return a signature by ECDSA with SHA-256, in base64."""
        return base64.b64encode(self.private.sign(text, ec.ECDSA(hashes.SHA256()))).decode()


def school_key(at: datetime) -> SchoolKey:
    """Return the key in use and record its certificate. Refuses where this installation has no key."""
    path = Path(settings.SIGNING_KEY_FILE)
    if not path.exists():
        # A server must not fall back to a key that proves nothing.
        if not settings.ON_THIS_MACHINE:
            raise Refusal(
                "This installation has no key to sign with, so nothing can be printed: the server's operator"
                " must set SIGNING_KEY_FILE to a PEM file with the school's key and certificate."
            )
        _make_demonstration_key(path, at)
    key = _read_key_file(path, path.stat().st_mtime_ns)
    if at > key.certificate.not_valid_after_utc:
        raise Refusal("The school's signing certificate has expired: the server's operator must renew it.")
    certificate, new = SigningCertificate.objects.get_or_create(
        fingerprint=key.fingerprint,
        defaults={"pem": key.pem, "demonstration": key.demonstration, "first_used_at": at},
    )
    if new:
        # The account of it: a certificate that somebody puts into the table has none.
        journal.record(by=None, at=at, what="signing certificate first used", subject=certificate, derived=False)
    return key


def certificate_fingerprint(certificate: x509.Certificate) -> str:
    return certificate.fingerprint(hashes.SHA256()).hex()


def is_valid_signature(text: bytes, signature: str, pem: str) -> bool:
    """Return whether a signature of SchoolKey.sign is over this text and by the certificate's key."""
    public = x509.load_pem_x509_certificate(pem.encode()).public_key()
    if not isinstance(public, ec.EllipticCurvePublicKey):
        return False
    try:
        public.verify(base64.b64decode(signature, validate=True), text, ec.ECDSA(hashes.SHA256()))
    except (InvalidSignature, ValueError):
        return False
    return True


@lru_cache(maxsize=2)
def _read_key_file(path: Path, changed: int) -> SchoolKey:
    """Read the key file; `changed` is part of the cache's key, so that a replaced file is read again."""
    text = path.read_bytes()
    secret = settings.SIGNING_KEY_PASSPHRASE.encode() or None
    private = serialization.load_pem_private_key(text, secret)
    certificate = x509.load_pem_x509_certificate(text)
    if not isinstance(private, ec.EllipticCurvePrivateKey):
        raise Refusal("The school's signing key is not one on an elliptic curve (P-256 will do).")
    return SchoolKey(private, certificate)


def make_school_key(path: Path, at: datetime) -> None:
    """Make a key with a certificate that it signs itself, readable by its owner only; an existing one stays."""
    _make_key(path, at, [x509.NameAttribute(NameOID.COMMON_NAME, "Signing key of a school's training record")])


def _make_demonstration_key(path: Path, at: datetime) -> None:
    unit = x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, DEMONSTRATION_UNIT)
    _make_key(path, at, [unit, x509.NameAttribute(NameOID.COMMON_NAME, "Demonstration key of a training record")])


def _make_key(path: Path, at: datetime, subject: list[x509.NameAttribute[str]]) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(subject)
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - timedelta(days=1))
        .not_valid_after(at + timedelta(days=366 * VALIDITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(private, hashes.SHA256())
    )
    key = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    # Written beside and then linked into place: no reader meets half a key, and link() fails where a key exists.
    half = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        # Closed to others before the key is in it.
        half.touch(mode=0o600)
        half.write_bytes(key + certificate.public_bytes(serialization.Encoding.PEM))
        os.link(half, path)  # whoever comes second keeps the first one's key
    except FileExistsError:
        pass
    finally:
        half.unlink(missing_ok=True)
