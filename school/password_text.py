"""Normalise the text of a password before it is hashed or compared."""

import unicodedata


def normalise_password(password: str) -> str:
    """Return the same password from every keyboard: Unicode's compatibility form NFKC."""
    return unicodedata.normalize("NFKC", password)
