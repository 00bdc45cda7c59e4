"""A progress sheet as HTML and as PDF. The only module that imports WeasyPrint, and only when it prints."""

from functools import lru_cache
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string

# WeasyPrint does not resolve custom properties inside a drawing; left as they are, every square would
# print full. On paper there is only ink and ground.
ON_PAPER = {"var(--paper)": "white", "var(--land)": "white", "var(--accent)": "black", "var(--hair)": "black"}
STATIC = settings.BASE_DIR / "school/static/school"


@lru_cache(maxsize=1)
def _fonts() -> Any:
    # One for the whole process: with a new one for each sheet memory grows without end.
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - slow import

    return FontConfiguration()


@lru_cache(maxsize=1)
def _styles() -> tuple[Any, ...]:
    from weasyprint import CSS  # noqa: PLC0415 - slow import

    names = ("tokens.css", "print.css")
    return tuple(CSS(filename=str(STATIC / name), font_config=_fonts(), media_type="print") for name in names)


def sheet_html(content: dict[str, Any], paper: str) -> str:
    html = render_to_string("print/progress_sheet.html", {"sheet": content, "paper": paper})
    for name, printed in ON_PAPER.items():
        html = html.replace(name, printed)
    return html


def pdf(html: str) -> bytes:
    """PDF/A-3b with embedded fonts."""
    from weasyprint import HTML  # noqa: PLC0415 - slow import

    document = HTML(string=html, base_url=str(STATIC))
    written: bytes = document.write_pdf(stylesheets=list(_styles()), font_config=_fonts(), pdf_variant="pdf/a-3b")
    return written
