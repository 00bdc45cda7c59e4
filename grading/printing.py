"""A sheet as HTML and as PDF. The only module that imports WeasyPrint, and only when it prints."""

import atexit
from datetime import datetime
from functools import lru_cache
from typing import Any

import segno
from django.conf import settings
from django.template.loader import render_to_string

# WeasyPrint does not resolve custom properties inside a drawing; left as they are, every square would
# print full. On paper there is only ink and ground.
ON_PAPER = {"var(--paper)": "white", "var(--land)": "white", "var(--accent)": "black", "var(--hair)": "black"}
STATIC = settings.BASE_DIR / "school/static/school"
# ISO 19005-3, level A: an archive copy with its structure and the record itself attached.
VARIANT = "pdf/a-3a"
RECORD = "record.json"


@lru_cache(maxsize=1)
def _fonts() -> Any:
    # One for the whole process: with a new one for each sheet memory grows without end. Let go while it still can be.
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - slow import

    atexit.register(_styles.cache_clear)
    atexit.register(_fonts.cache_clear)
    return FontConfiguration()


@lru_cache(maxsize=1)
def _styles() -> tuple[Any, ...]:
    from weasyprint import CSS  # noqa: PLC0415 - slow import

    names = ("tokens.css", "print.css")
    return tuple(CSS(filename=str(STATIC / name), font_config=_fonts(), media_type="print") for name in names)


def sheet_html(template: str, content: dict[str, Any], fingerprint: str, paper: str) -> str:
    address = f"{settings.PUBLIC_ADDRESS.rstrip('/')}/check/{fingerprint}/"
    code = segno.make(address, error="m").svg_inline(omitsize=True, border=2, svgclass=None, lineclass=None)
    context = {"sheet": content, "fingerprint": fingerprint, "paper": paper, "address": address, "code": code}
    html = render_to_string(template, context)
    for name, printed in ON_PAPER.items():
        html = html.replace(name, printed)
    return html


def pdf(html: str, record: bytes, at: datetime) -> bytes:
    """With embedded fonts, structure, and the record attached as its data."""
    from weasyprint import HTML, Attachment  # noqa: PLC0415 - slow import

    attached = Attachment(
        string=record, name=RECORD, description="The record that is printed here, RFC 8785", relationship="Data",
        created=at, modified=at,
    )  # fmt: skip
    document = HTML(string=html, base_url=str(STATIC))
    written: bytes = document.write_pdf(
        stylesheets=list(_styles()), font_config=_fonts(), pdf_variant=VARIANT, attachments=[attached]
    )
    return written
