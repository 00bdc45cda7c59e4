"""Reads printed sheets back from their files, each page once for all tests of a file."""

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pypdf import PageObject, PdfReader

from grading.models import Sheet


@dataclass(frozen=True)
class Line:
    """A piece of text: how high above the foot of the page, and its size, both in points."""

    text: str
    height: float
    size: float


@dataclass(frozen=True)
class PrintedPage:
    """A page, with its text and lines as they were read once: reading takes longer than all that is asked of them."""

    page: PageObject
    text: str
    lines: tuple[Line, ...]

    def extract_text(self) -> str:
        return self.text


def pages_of(sheet: Sheet) -> tuple[PrintedPage, ...]:
    return _pages(bytes(sheet.pdf))


def lines_of(page: PrintedPage) -> tuple[Line, ...]:
    return page.lines


@lru_cache(maxsize=8)
def _pages(pdf: bytes) -> tuple[PrintedPage, ...]:
    return tuple(_read(page) for page in PdfReader(io.BytesIO(pdf)).pages)


def _read(page: PageObject) -> PrintedPage:
    found: list[Line] = []

    def visit(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        if text.strip():
            scale = abs(cm[3] * tm[3])
            found.append(Line(text.strip(), tm[5] * cm[3] + cm[5], round(size * scale, 2)))

    return PrintedPage(page, page.extract_text(visitor_text=visit), tuple(found))
