"""Render a sheet as HTML and as PDF. This is the only module that imports WeasyPrint, and only when it prints."""

import atexit
import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import segno
from django.conf import settings
from django.template.loader import render_to_string

from grading.sheets.unprintable import spell_out_unprintable

# WeasyPrint does not resolve custom properties inside a drawing; left as they are, every square would
# print full. On paper there is only ink and ground.
PRINT_COLOURS = {
    "var(--paper)": "white",
    "var(--land)": "#e6e6e6",  # ten per cent: it has an outline, so a copy that loses it shows its edge
    "var(--accent)": "black",
    "var(--hair)": "black",
    "var(--ink-2)": "black",
}
# In a drawing alone: in a text of the record a quotation mark is written as &quot; on the page.
COLOUR_SLOT = re.compile(rf'\b(fill|stroke)="({"|".join(map(re.escape, PRINT_COLOURS))})"')
# The text of a drawing for a screen reader is read from its title alone; on a page it would be a tooltip.
NAMED_DRAWING = re.compile(r'(<svg [^>]*aria-label="([^"]*)"[^>]*>)')
# A key for demonstration signs nothing that counts, and every page says so at its head.
DEMONSTRATION_NOTICE = "Printed with a demonstration key: proves nothing"
STATIC_FOLDER = settings.BASE_DIR / "school/static/school"
FONT_FOLDER = (STATIC_FOLDER / "fonts").resolve()
SYSTEM_FONTS_CONFIG = settings.BASE_DIR / "grading/sheets/print_fonts.conf"
# ISO 19005-3, level A: an archive copy with its structure and the record itself attached.
PDF_VARIANT = "pdf/a-3a"
RECORD_ATTACHMENT = "record.json"
# What the fonts of this machine do not draw, as far as it was met: printed in words.
MISSING_GLYPHS: set[str] = set()
# The second one prints the names of what the first could not draw. A set of fonts without even those letters would go
# on without end.
MAX_RENDERINGS = 3
# A progress sheet is a leaf of paper. How many lessons fewer are tried where it is longer, one after the other.
MOST_PAGES, FEWER_LESSONS = 2, (3, 7, 11, 15)


@lru_cache(maxsize=1)
def _font_configuration() -> Any:
    # One for the whole process: with a new one for each sheet memory grows without end. Let go while it still can be.
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - slow import

    atexit.register(_stylesheets.cache_clear)
    atexit.register(_font_configuration.cache_clear)
    with _with_fonts_config():
        return FontConfiguration()


@contextmanager
def _with_fonts_config() -> Iterator[None]:
    """Run with the project's own font configuration, which nothing else in the process reads."""
    name, before = "FONTCONFIG_FILE", os.environ.get("FONTCONFIG_FILE")
    # The library reads this variable while the configuration is built.
    os.environ[name] = str(SYSTEM_FONTS_CONFIG)
    try:
        yield
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


@lru_cache(maxsize=1)
def _font_fetcher() -> Any:
    """Return a fetcher of the project's fonts alone: no address in a record is ever requested."""
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - slow import

    class OwnFonts(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> Any:
            address = urlsplit(url)
            path = Path(unquote(address.path)).resolve()
            # A record with an address in it could otherwise make the server read its own files or ask other servers.
            if address.scheme != "file" or address.netloc or path.parent != FONT_FOLDER:
                raise ValueError(f"A sheet fetches nothing from {url[:200]}")
            return super().fetch(url, headers)

    return OwnFonts(allowed_protocols=["file"], allow_redirects=False)


@lru_cache(maxsize=1)
def _stylesheets() -> tuple[Any, ...]:
    from weasyprint import CSS  # noqa: PLC0415 - slow import

    # Parsed once for the process: the styles are the same for every sheet.
    names = ("tokens.css", "print.css")
    return tuple(
        CSS(
            filename=str(STATIC_FOLDER / name),
            font_config=_font_configuration(),
            media_type="print",
            url_fetcher=_font_fetcher(),
        )
        for name in names
    )


def render_sheet_html(template: str, content: dict[str, Any], fingerprint: str, paper: str, fewer: int = 0) -> str:
    """Return the page. fewer: how many lessons less than usual have a row of their own, where a sheet is too long."""
    address = f"{settings.PUBLIC_ADDRESS.rstrip('/')}/check/{fingerprint}/"
    code = segno.make(address, error="m").svg_inline(
        omitsize=True, border=2, svgclass=None, lineclass=None, title=f"Code that opens {address}"
    )
    page = address.split("://")[-1].removesuffix(f"{fingerprint}/").rstrip("/")
    context = {"sheet": content, "fingerprint": fingerprint, "paper": paper, "code": code}
    notice = DEMONSTRATION_NOTICE if content.get("demonstration") else ""
    context |= {"check_page": page, "fewer": fewer, "notice": notice}
    context["short_fingerprint"] = " ".join(fingerprint[place : place + 4] for place in range(0, 16, 4))
    html = COLOUR_SLOT.sub(lambda slot: f'{slot[1]}="{PRINT_COLOURS[slot[2]]}"', render_to_string(template, context))
    return NAMED_DRAWING.sub(r"\1<title>\2</title>", html)


def render_pdf(html: str, record: bytes, at: datetime, shorter: Callable[[int], str] | None = None) -> bytes:
    """Render with embedded fonts, structure and the attached record; characters without a glyph become words.

    shorter: the same with so many lessons fewer, for a sheet that must have room on MOST_PAGES.
    """
    for _ in range(MAX_RENDERINGS):
        written, missing_glyphs = _write_pdf(spell_out_unprintable(html, MISSING_GLYPHS), record, at, shorter)
        if not missing_glyphs:
            return written
        # Remembered for the process, so that the next sheet with the same character is right at the first rendering.
        MISSING_GLYPHS.update(missing_glyphs)
    raise RuntimeError(f"No font draws the names of {sorted(missing_glyphs)}")


def _write_pdf(
    html: str, record: bytes, at: datetime, shorter: Callable[[int], str] | None = None
) -> tuple[bytes, set[str]]:
    """Return the file, and the characters for which no font has a glyph."""
    from weasyprint import Attachment  # noqa: PLC0415 - slow import

    attached = Attachment(
        string=record,
        name=RECORD_ATTACHMENT,
        description="The record that is printed here, RFC 8785",
        relationship="Data",
        created=at,
        modified=at,
    )
    options = {"stylesheets": list(_stylesheets()), "pdf_variant": PDF_VARIANT, "attachments": [attached]}
    document = _lay_out(html, options)
    for fewer in FEWER_LESSONS if shorter else ():
        if len(document.pages) <= MOST_PAGES:
            break
        assert shorter
        document = _lay_out(spell_out_unprintable(shorter(fewer), MISSING_GLYPHS), options)
    written: bytes = document.write_pdf(**options)
    fonts = document.fonts.values()
    missing_glyphs = {chr(code) for font in fonts for code in font.missing}
    # Glyph 0 is the empty box of a font: what is mapped to it was not drawn either.
    return written, missing_glyphs.union(*(font.to_unicode.get(0, "") for font in fonts))


def _lay_out(html: str, options: dict[str, Any]) -> Any:
    from weasyprint import HTML  # noqa: PLC0415 - slow import

    source = HTML(string=html, base_url=str(STATIC_FOLDER), url_fetcher=_font_fetcher())
    return source.render(font_config=_font_configuration(), **options)
