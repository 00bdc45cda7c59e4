"""Give a tablet what it seals its unsent taps with, and tell it whether its session was ended.

A tablet seals with a public key and needs nothing secret for it; the private key comes from the school, after a log-in
of the same person. Both are derived from SECRET_KEY and stored nowhere. The tablet's side is
school/static/school/seal.js: ECDH on P-256, HKDF with SHA-256, AES-256-GCM.
"""

import base64
from functools import lru_cache
from typing import Any

from allauth.usersessions.models import UserSession
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.utils.crypto import constant_time_compare, salted_hmac

# The order of the group of P-256 (NIST SP 800-186, section 3.2.1.3; the number from memory, a test multiplies it out).
GROUP_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
TICKET_SALT = "school.tablet_ticket"


@lru_cache(maxsize=512)
def public_point(person: int) -> str:
    """Return the public key of a person's tablets: the uncompressed point, base64url. `person`: its primary key."""
    point = _private_key(person, settings.SECRET_KEY).public_key()
    return _base64url(point.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))


def private_keys(person: int) -> list[dict[str, str]]:
    """Return the private keys as JSON Web Keys (RFC 7517), newest first: after a change of SECRET_KEY both open."""
    return [_jwk(_private_key(person, secret)) for secret in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]


def session_ticket(request: HttpRequest) -> str:
    """Return by what a tablet can ask later whether its session was ended; it opens nothing."""
    return _signer().sign_object([request.user.pk, _session_digest(request.session.session_key or "")])


def was_ended(ticket: str) -> bool:
    """Return whether the session of a ticket is over; False for what is no ticket of this school."""
    try:
        person, digest = _signer().unsign_object(ticket)
    except (signing.BadSignature, ValueError):
        return False
    keys = UserSession.objects.filter(user=person).values_list("session_key", flat=True)
    return not any(constant_time_compare(_session_digest(key), digest) for key in keys)


def _signer() -> signing.Signer:
    return signing.Signer(salt=TICKET_SALT)


def _session_digest(key: str) -> str:
    return salted_hmac("school.tablet_session", key, algorithm="sha256").hexdigest()


def _private_key(person: int, secret: Any) -> ec.EllipticCurvePrivateKey:
    digest = salted_hmac("school.tablet_seal", str(person), secret=secret, algorithm="sha512").digest()
    # 512 bits reduced to 256 leave no bias that matters; 0 is no private key.
    return ec.derive_private_key(int.from_bytes(digest) % (GROUP_ORDER - 1) + 1, ec.SECP256R1())


def _jwk(key: ec.EllipticCurvePrivateKey) -> dict[str, str]:
    numbers = key.private_numbers()
    public = numbers.public_numbers
    coordinates = {"d": numbers.private_value, "x": public.x, "y": public.y}
    return {"kty": "EC", "crv": "P-256", **{name: _base64url(n.to_bytes(32)) for name, n in coordinates.items()}}


def _base64url(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).decode().rstrip("=")
