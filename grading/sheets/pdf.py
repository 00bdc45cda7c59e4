"""A sheet as HTML and as PDF. The only module that imports WeasyPrint, and only when it prints."""

import atexit
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import segno
from django.conf import settings
from django.template.loader import render_to_string

from grading.sheets.unprintable import spelled

# WeasyPrint does not resolve custom properties inside a drawing; left as they are, every square would
# print full. On paper there is only ink and ground.
ON_PAPER = {"var(--paper)": "white", "var(--land)": "white", "var(--accent)": "black", "var(--hair)": "black"}
STATIC = settings.BASE_DIR / "school/static/school"
FONTS = (STATIC / "fonts").resolve()
FONTS_OF_THE_SYSTEM = settings.BASE_DIR / "grading/sheets/print_fonts.conf"
# ISO 19005-3, level A: an archive copy with its structure and the record itself attached.
VARIANT = "pdf/a-3a"
RECORD = "record.json"
# What the fonts of this machine do not draw, as far as it was met: printed in words.
UNDRAWN: set[str] = set()
TRIES = 3


@lru_cache(maxsize=1)
def _fonts() -> Any:
    # One for the whole process: with a new one for each sheet memory grows without end. Let go while it still can be.
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - slow import

    atexit.register(_styles.cache_clear)
    atexit.register(_fonts.cache_clear)
    with _outlines_only():
        return FontConfiguration()


@contextmanager
def _outlines_only() -> Iterator[None]:
    """The fonts are looked through once, as this file says; nothing else of the process reads it."""
    name, before = "FONTCONFIG_FILE", os.environ.get("FONTCONFIG_FILE")
    os.environ[name] = str(FONTS_OF_THE_SYSTEM)
    try:
        yield
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


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
    """With embedded fonts, structure, and the record attached as its data. What no font draws stands in words."""
    for _ in range(TRIES):
        written, undrawn = _written(spelled(html, UNDRAWN), record, at)
        if not undrawn:
            return written
        UNDRAWN.update(undrawn)
    raise RuntimeError(f"No font draws the names of {sorted(undrawn)}")


def _written(html: str, record: bytes, at: datetime) -> tuple[bytes, set[str]]:
    """The file, and the characters in it for which there was no glyph."""
    from weasyprint import HTML, Attachment  # noqa: PLC0415 - slow import

    attached = Attachment(
        string=record, name=RECORD, description="The record that is printed here, RFC 8785", relationship="Data",
        created=at, modified=at,
    )  # fmt: skip
    options = {"stylesheets": list(_styles()), "pdf_variant": VARIANT, "attachments": [attached]}
    source = HTML(string=html, base_url=str(STATIC), url_fetcher=_fetcher())
    document = source.render(font_config=_fonts(), **options)
    written: bytes = document.write_pdf(**options)
    fonts = document.fonts.values()
    undrawn = {chr(code) for font in fonts for code in font.missing}
    return written, undrawn.union(*(font.to_unicode.get(0, "") for font in fonts))
