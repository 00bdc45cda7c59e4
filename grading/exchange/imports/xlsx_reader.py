"""Read the first sheet of a workbook (XLSX) within limits, in a process of its own (school.file_reader).

Knows neither Django nor the database. The limits apply while the file is read, because the size that it states is not
trusted.
"""

import zipfile
import zlib
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

MAX_UNPACKED_BYTES = 20 * 2**20
# Every part is unpacked once to be measured; a table alone has far fewer.
MAX_PARTS = 200
MAX_ROWS = 2000
MAX_COLUMNS = 30
MAX_CELL_CHARACTERS = 2000
UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class BadWorkbook(ValueError):
    """The workbook cannot be read; the message says why and what to do."""


def read_workbook(content: bytes) -> dict[str, Any]:
    """Return the rows of the first sheet as texts, or the problem in a sentence.

    {"problem": "", "rows": [[number, [text, ...]], ...], "epoch": "1899-12-30"}: rows are counted from 1 as in the
    spreadsheet, `epoch` is day 0 of dates that are plain numbers.
    """
    try:
        _refuse_zip_bomb(content)
        rows, epoch = _read_rows(content)
    except BadWorkbook as bad:
        return {"problem": str(bad)}
    return {"problem": "", "rows": rows, "epoch": epoch.isoformat()}


def _read_rows(content: bytes) -> tuple[list[tuple[int, list[str]]], date]:
    import openpyxl  # noqa: PLC0415 - slow import, and needed in the reader's process alone

    try:
        book = openpyxl.load_workbook(BytesIO(content), read_only=True, data_only=True, keep_links=False)
        try:
            sheet = book.worksheets[0]
            # The size that the sheet states may be wrong or hostile: a cell at the far corner would mean millions of
            # empty ones.
            sheet.reset_dimensions()
            # One more of each than is allowed, to tell a table that is too large from one that just fits.
            found = sheet.iter_rows(max_row=MAX_ROWS + MAX_COLUMNS + 1, max_col=MAX_COLUMNS + 1, values_only=True)
            rows = [(number, [_cell_text(cell) for cell in row]) for number, row in enumerate(found, start=1)]
            return rows, book.epoch.date()
        finally:
            book.close()
    except (
        zipfile.BadZipFile,
        zlib.error,
        SyntaxError,
        KeyError,
        ValueError,
        TypeError,
        IndexError,
        AttributeError,
        OverflowError,
        EOFError,
        OSError,
        RuntimeError,
    ) as error:
        # A workbook that is damaged fails in many ways inside the library; none of them is a fault of this program.
        raise BadWorkbook("This XLSX file cannot be read: save it from the spreadsheet again, or as CSV.") from error


def _refuse_zip_bomb(content: bytes) -> None:
    """Refuse a workbook (a zip of XML) that grows too large when unpacked, or has definitions that grow when read."""
    left = MAX_UNPACKED_BYTES
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            parts = archive.infolist()
            if len(parts) > MAX_PARTS:
                raise BadWorkbook("This XLSX file has too many parts: save the table alone in a new one.")
            for part in parts:
                with archive.open(part) as stream:
                    # One byte more than is allowed tells a part that is too large, without unpacking the rest.
                    unpacked = stream.read(left + 1)
                left -= len(unpacked)
                if left < 0:
                    raise BadWorkbook(
                        f"This XLSX file unpacks to more than {MAX_UNPACKED_BYTES // 2**20} MB: divide it."
                    )
                # Entities defined in a few lines can grow to gigabytes when they are read. UTF-16 would hide these
                # words from the search.
                if b"<!DOCTYPE" in unpacked or b"<!ENTITY" in unpacked or _is_not_utf_8(part.filename, unpacked):
                    raise BadWorkbook("This XLSX file holds what no spreadsheet writes: save it from one again.")
    except BadWorkbook:
        raise
    except (zipfile.BadZipFile, zlib.error, ValueError, EOFError, OSError, RuntimeError) as error:
        raise BadWorkbook("This XLSX file cannot be unpacked: save it from the spreadsheet again.") from error


def _is_not_utf_8(name: str, content: bytes) -> bool:
    return name.lower().endswith((".xml", ".rels")) and (b"\x00" in content or content.startswith(UTF_16_MARKS))


def _cell_text(cell: Any) -> str:
    """Return what a person sees in the cell, in the forms that the columns read: 2026-03-04, 1:12, 12.

    A text that is too long keeps one character too many, so that it is refused as such.
    """
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        # A day is stored with midnight. Any other time is shown, so that the column refuses it instead of dropping it.
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ", "minutes")
    if isinstance(cell, time):
        return f"{cell.hour}:{cell.minute:02d}"
    if isinstance(cell, timedelta):
        minutes = round(cell.total_seconds() / 60)
        return f"{minutes // 60}:{minutes % 60:02d}"
    if isinstance(cell, float):
        # By the shortest decimal text, so that 1.2 stays 1.2; without an exponent, which no column reads.
        return str(int(cell)) if cell.is_integer() and abs(cell) < 10**15 else f"{Decimal(repr(cell)):f}"[:40]
    return str(cell)[: MAX_CELL_CHARACTERS + 1]
