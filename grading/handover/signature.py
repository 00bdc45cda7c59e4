"""The school's signature over the manifest of a hand-over file (SHA256SUMS), where the school has a key."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Signed:
    """What was found of a signature, in words for the person who takes the file in."""

    words: str
    holds: bool | None = None


def signed_manifest(manifest: bytes) -> bytes | None:
    """A detached signature over these bytes, or None where the school has no key to sign with."""
    return None


def checked_signature(manifest: bytes, signature: bytes | None) -> Signed:
    """`holds` None: there is none, or nothing here can check it; the fingerprints are checked all the same."""
    if signature is None:
        return Signed("Not signed by the school that made it: checked by its fingerprints alone.")
    return Signed("It carries a signature that cannot be checked here: checked by its fingerprints alone.")
