"""A sheet as HTML and as PDF. The only module that imports WeasyPrint, and only when it prints."""

import atexit
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import segno
from django.conf import settings
from django.template.loader import render_to_string

# WeasyPrint does not resolve custom properties inside a drawing; left as they are, every square would
# print full. On paper there is only ink and ground.
ON_PAPER = {"var(--paper)": "white", "var(--land)": "white", "var(--accent)": "black", "var(--hair)": "black"}
STATIC = settings.BASE_DIR / "school/static/school"
FONTS = (STATIC / "fonts").resolve()
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
def _fetcher() -> Any:
    """Fetches the fonts of the project and nothing else: no address that stands in a record is ever asked."""
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - slow import

    class OwnFonts(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> Any:
            asked = urlsplit(url)
            path = Path(unquote(asked.path)).resolve()
            if asked.scheme != "file" or asked.netloc or path.parent != FONTS:
                raise ValueError(f"A sheet fetches nothing from {url[:200]}")
            return super().fetch(url, headers)

    return OwnFonts(allowed_protocols=["file"], allow_redirects=False)


@lru_cache(maxsize=1)
def _styles() -> tuple[Any, ...]:
    from weasyprint import CSS  # noqa: PLC0415 - slow import

    names = ("tokens.css", "print.css")
    return tuple(
        CSS(filename=str(STATIC / name), font_config=_fonts(), media_type="print", url_fetcher=_fetcher())
        for name in names
    )


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
    document = HTML(string=html, base_url=str(STATIC), url_fetcher=_fetcher())
    written: bytes = document.write_pdf(
        stylesheets=list(_styles()), font_config=_fonts(), pdf_variant=VARIANT, attachments=[attached]
    )
    return written
