"""The header that names a file for whoever saves it."""

import re

from django.utils.http import content_disposition_header


def content_disposition(name: str, inline: bool = False) -> str:
    """Content-Disposition (RFC 6266). Of a name made of typed text only letters, digits, dots and hyphens stay."""
    safe = re.sub(r"[^\w.-]+", "-", name).lstrip(".-") or "file"
    header: str | None = content_disposition_header(as_attachment=not inline, filename=safe)
    assert header is not None
    return header
