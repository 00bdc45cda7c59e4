"""Reads printed sheets back from their files."""

import io
from dataclasses import dataclass
from typing import Any

from pypdf import PageObject, PdfReader

from grading.models import Sheet


@dataclass(frozen=True)
class Line:
    """A piece of text: how high above the foot of the page, and its size, both in points."""

    text: str
    height: float
    size: float


def pages_of(sheet: Sheet) -> list[PageObject]:
    return list(PdfReader(io.BytesIO(bytes(sheet.pdf))).pages)


def lines_of(page: PageObject) -> list[Line]:
    found: list[Line] = []

    def visit(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        if text.strip():
            scale = abs(cm[3] * tm[3])
            found.append(Line(text.strip(), tm[5] * cm[3] + cm[5], round(size * scale, 2)))

    page.extract_text(visitor_text=visit)
    return found
