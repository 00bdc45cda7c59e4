"""Read a table from a CSV or XLSX file as text, within limits. Each doubt becomes a sentence for the person.

The limits apply while the file is read, because the size that it states is not trusted.
"""

import csv
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from io import BytesIO, StringIO
from typing import Any

import openpyxl
import tablib

MAX_BYTES = 2 * 2**20
MAX_UNPACKED_BYTES = 20 * 2**20
# Every part is unpacked once to be measured; a table alone has far fewer.
MAX_PARTS = 200
MAX_ROWS = 2000
MAX_COLUMNS = 30
MAX_CELL_CHARACTERS = 2000
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
XLSX_MAGIC = b"PK\x03\x04"
UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")


class BadTable(ValueError):
    """The file as a whole cannot be read; the message says why and what to do."""


@dataclass(frozen=True)
class TableRow:
    """One row. `number` is counted from 1 as in the spreadsheet; `cells` has a text for each heading."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """A table. `read_as` says how it was read; `epoch` is day 0 of dates that are plain numbers, XLSX only."""

    headings: tuple[str, ...]
    rows: tuple[TableRow, ...]
    read_as: str
    epoch: date | None = None


def read_table(content: bytes) -> Table:
    """Read a table; raise BadTable for a file that cannot be read. Empty lines and those with # are left out."""
    if not content.strip():
        raise BadTable("The file is empty.")
    if len(content) > MAX_BYTES:
        raise BadTable(f"The file is larger than {MAX_BYTES // 2**20} MB: divide it into several.")
    if content.startswith(XLSX_MAGIC):
        return _read_xlsx(content)
    return _read_csv(content)


def _read_csv(content: bytes) -> Table:
    text, encoding = _decode(content)
    first = text.split("\n", 1)[0]
    # By the headings, in which no number with a decimal comma misleads. The result is shown to the person.
    delimiter = max(DELIMITERS, key=first.count)
    # Strict: a quotation mark that is never closed would otherwise swallow the rest of the table into one cell.
    lines = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        numbered = list(enumerate(_limit_rows(lines), start=1))
    except csv.Error as error:
        raise BadTable(f"Line {lines.line_num} cannot be read: {error}. Save the table as CSV again.") from error
    return _build_table(numbered, f"CSV, {encoding}, {DELIMITERS[delimiter]} between the columns", None)


def _limit_rows(lines: Iterator[list[str]]) -> Iterator[list[str]]:
    for count, row in enumerate(lines):
        # The example file has a line of explanation for each column; those lines do not count as rows.
        if count > MAX_ROWS + MAX_COLUMNS:
            raise BadTable(f"It has more than {MAX_ROWS} rows: divide it into several files.")
        yield row


def _decode(content: bytes) -> tuple[str, str]:
    if content.startswith(UTF_16_MARKS):
        raise BadTable("It is written in UTF-16. Save it as “CSV UTF-8”, or as XLSX.")
    try:
        return content.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        try:
            return content.decode("cp1252"), "Windows-1252: look at names with accents"
        except UnicodeDecodeError:
            raise BadTable(
                f"Line {line} is neither UTF-8 nor Windows-1252. Save the file as “CSV UTF-8”, or as XLSX."
            ) from error


def _read_xlsx(content: bytes) -> Table:
    _refuse_zip_bomb(content)
    try:
        book = openpyxl.load_workbook(BytesIO(content), read_only=True, data_only=True, keep_links=False)
        try:
            sheet = book.worksheets[0]
            # The size that the sheet states may be wrong or hostile: a cell at the far corner would mean millions of
            # empty ones.
            sheet.reset_dimensions()
            # One more of each than is allowed, to tell a table that is too large from one that just fits.
            found = sheet.iter_rows(max_row=MAX_ROWS + MAX_COLUMNS + 1, max_col=MAX_COLUMNS + 1, values_only=True)
            numbered = [(number, [_cell_text(cell) for cell in row]) for number, row in enumerate(found, start=1)]
            epoch = book.epoch.date()
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
        raise BadTable("This XLSX file cannot be read: save it from the spreadsheet again, or as CSV.") from error
    return _build_table(numbered, "XLSX, first sheet", epoch)


def _refuse_zip_bomb(content: bytes) -> None:
    """Refuse a workbook (a zip of XML) that grows too large when unpacked, or has definitions that grow when read."""
    left = MAX_UNPACKED_BYTES
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            parts = archive.infolist()
            if len(parts) > MAX_PARTS:
                raise BadTable("This XLSX file has too many parts: save the table alone in a new one.")
            for part in parts:
                with archive.open(part) as stream:
                    # One byte more than is allowed tells a part that is too large, without unpacking the rest.
                    unpacked = stream.read(left + 1)
                left -= len(unpacked)
                if left < 0:
                    raise BadTable(f"This XLSX file unpacks to more than {MAX_UNPACKED_BYTES // 2**20} MB: divide it.")
                # Entities defined in a few lines can grow to gigabytes when they are read. UTF-16 would hide these
                # words from the search.
                if b"<!DOCTYPE" in unpacked or b"<!ENTITY" in unpacked or _is_not_utf_8(part.filename, unpacked):
                    raise BadTable("This XLSX file holds what no spreadsheet writes: save it from one again.")
    except BadTable:
        raise
    except (zipfile.BadZipFile, zlib.error, ValueError, EOFError, OSError, RuntimeError) as error:
        raise BadTable("This XLSX file cannot be unpacked: save it from the spreadsheet again.") from error


def _is_not_utf_8(name: str, content: bytes) -> bool:
    return name.lower().endswith((".xml", ".rels")) and (b"\x00" in content or content.startswith(UTF_16_MARKS))


def _cell_text(cell: Any) -> str:
    """Return what a person sees in the cell, in the forms that the columns read: 2026-03-04, 1:12, 12."""
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
    return str(cell)


def _build_table(numbered: list[tuple[int, list[str]]], read_as: str, epoch: date | None) -> Table:
    filled = [(number, [cell.strip() for cell in row]) for number, row in numbered if any(map(str.strip, row))]
    filled = [(number, row) for number, row in filled if not row[0].startswith("#")]
    if not filled:
        raise BadTable("There is no heading row in the file.")
    headings = tuple(_strip_empty_end(filled[0][1]))
    if len(headings) > MAX_COLUMNS:
        raise BadTable(f"It has more than {MAX_COLUMNS} columns: keep those of the example.")
    if len(filled) - 1 > MAX_ROWS:
        raise BadTable(f"It has more than {MAX_ROWS} rows: divide it into several files.")
    return Table(headings, tuple(_build_row(number, row, len(headings)) for number, row in filled[1:]), read_as, epoch)


def _build_row(number: int, cells: list[str], width: int) -> TableRow:
    cells = _strip_empty_end(cells)
    # A delimiter inside a cell shifts the rest: values would go under the wrong headings unnoticed.
    if len(cells) > width:
        raise BadTable(f"Row {number} has more cells than there are headings: it stands in the wrong columns.")
    for cell in cells:
        if len(cell) > MAX_CELL_CHARACTERS:
            raise BadTable(f"Row {number} has a cell of more than {MAX_CELL_CHARACTERS} characters: shorten it.")
        if any(unicodedata.category(sign) in ("Cc", "Cs") and sign not in "\n\r\t" for sign in cell):
            raise BadTable(f"Row {number} holds a character that cannot be read: type that cell anew.")
    return TableRow(number, tuple(cells + [""] * (width - len(cells))))


def _strip_empty_end(cells: list[str]) -> list[str]:
    """Return the cells without the empty ones at the end."""
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def example_file(headings: list[str], explained: list[str], form: str) -> bytes:
    """Return an empty file to fill in, "csv" or "xlsx": the headings, and a line for each column that explains it.

    Those lines begin with #, and are left out when the file is read.
    """
    made = tablib.Dataset(headers=headings, title="Fill in here")
    for line in explained:
        made.append([f"# {line}", *[""] * (len(headings) - 1)])
    if form == "xlsx":
        written: bytes = made.export("xlsx", column_width=18)
        return written
    text: str = made.export("csv")
    return text.encode("utf-8-sig")
