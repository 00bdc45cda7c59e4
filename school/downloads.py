"""Build the header that names a downloaded file."""

import re

from django.utils.http import content_disposition_header


def content_disposition(name: str, inline: bool = False) -> str:
    """Return a Content-Disposition header (RFC 6266); of `name` only word characters, dots and hyphens stay."""
    # Names contain typed text: no path, quote or leading dot may reach the file system of the reader.
    safe = re.sub(r"[^\w.-]+", "-", name).lstrip(".-") or "file"
    # None comes back only for an inline file without a name, and `safe` is never empty.
    header: str | None = content_disposition_header(as_attachment=not inline, filename=safe)
    assert header is not None
    return header
