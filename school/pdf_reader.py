"""Read a PDF of a stranger, and return its pages without what it says of its making and without what it could do.

Read in a process of its own (school.file_reader); knows neither Django nor the database. Metadata, scripts, actions and
attached files go, and what a camera wrote into the pictures on the pages.
"""

import base64
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.misc import PdfError
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.pdf_utils.writer import copy_into_new_writer

MAX_PDF_BYTES = 5 * 2**20
MAX_PDF_PAGES = 30

CUT = "The file ends before its end, or is damaged: take the picture again, or send the file again."
TOO_LARGE = "The PDF has {size:.0f} MB, and {most} MB are the most: save it smaller, or take a picture of each page."
TOO_MANY_PAGES = f"The PDF has more than {MAX_PDF_PAGES} pages: send the pages of the document alone."
LOCKED = "The PDF asks for a password: save it without one."

# Metadata, scripts, what happens on opening or pressing, files and films inside. Names of ISO 32000.
DROPPED_KEYS = {
    *("/Metadata", "/PieceInfo", "/LastModified", "/OPI", "/Thumb", "/StructTreeRoot", "/SpiderInfo", "/Legal"),
    *("/OpenAction", "/AA", "/A", "/PA", "/JS", "/JavaScript", "/URI", "/XFA", "/Perms"),
    *("/Names", "/Dests", "/Outlines", "/Threads", "/Collection", "/AF", "/EF", "/FS"),
    *("/RichMediaContent", "/RichMediaSettings", "/Sound", "/Movie", "/3DD"),
}
# Of these parts of a JPEG within a PDF only the two that say how its colours are meant.
JPEG_KEPT_PARTS = (0xE0, 0xEE)


class PdfRefused(ValueError):
    """The file cannot be kept; the message is a sentence for the person."""


def read_pdf(content: bytes) -> dict[str, str]:
    """Return `media_type` and `content` in base64, or `refused` with a sentence."""
    try:
        return {"media_type": "application/pdf", "content": base64.b64encode(_strip_pdf(content)).decode()}
    except PdfRefused as refused:
        return {"refused": str(refused)}


def _strip_pdf(content: bytes) -> bytes:
    if len(content) > MAX_PDF_BYTES:
        raise PdfRefused(TOO_LARGE.format(size=len(content) / 2**20, most=MAX_PDF_BYTES // 2**20))
    try:
        reader = PdfFileReader(BytesIO(content), strict=False)
        if reader.encrypted:
            raise PdfRefused(LOCKED)
        if int(reader.root["/Pages"]["/Count"]) > MAX_PDF_PAGES:
            raise PdfRefused(TOO_MANY_PAGES)
        pruned = _copy_pdf(reader, prune=True)
        # Once more: what nothing leads to any longer is not copied.
        return _copy_pdf(PdfFileReader(BytesIO(pruned), strict=False), prune=False)
    except (PdfError, OSError, LookupError, TypeError, AttributeError, RecursionError) as damaged:
        raise PdfRefused(CUT) from damaged


def _copy_pdf(reader: PdfFileReader, *, prune: bool) -> bytes:
    # Without the title, author and program of the original.
    writer = copy_into_new_writer(reader, writer_kwargs={"info": None})
    if prune:
        for part in [*writer.objects.values()]:
            for row in _dictionaries(part):
                for key in DROPPED_KEYS & row.keys():
                    del row[key]
                if isinstance(row, generic.StreamObject) and row.get("/Filter") == "/DCTDecode":
                    row._encoded_data = strip_jpeg_parts(row.encoded_data)
    out = BytesIO()
    writer.write(out)  # type: ignore[no-untyped-call]
    return out.getvalue()


def _dictionaries(part: Any) -> Iterator[generic.DictionaryObject]:
    """Yield every dictionary in an object of a PDF; what it refers to is another object."""
    waiting = [part]
    while waiting:
        row = waiting.pop()
        if isinstance(row, generic.DictionaryObject):
            yield row
            waiting += [row.raw_get(key) for key in row]
        elif isinstance(row, generic.ArrayObject):
            waiting += list.__iter__(row)


def strip_jpeg_parts(content: bytes) -> bytes:
    """Return a JPEG without what its camera wrote beside the picture (ISO 10918-1, B.1.1: markers and their length)."""
    kept, place = [content[:2]], 2
    while place + 4 <= len(content) and content[place] == 0xFF:
        marker, length = content[place + 1], int.from_bytes(content[place + 2 : place + 4])
        if marker == 0xDA:  # from here on the picture itself
            break
        beside = 0xE0 <= marker <= 0xEF or marker == 0xFE
        if not beside or marker in JPEG_KEPT_PARTS:
            kept.append(content[place : place + 2 + length])
        place += 2 + length
    return b"".join([*kept, content[place:]])
