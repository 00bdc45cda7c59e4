"""Read a table from a CSV or XLSX file as text, within limits. Each doubt becomes a sentence for the person.

A workbook is read in a process of its own (school.file_reader): a small one can hold the work of minutes.
"""

import csv
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from io import BytesIO, StringIO

import openpyxl
import tablib
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from grading.exchange.imports.xlsx_reader import MAX_CELL_CHARACTERS, MAX_COLUMNS, MAX_ROWS, UTF_16_MARKS
from school.file_reader import PATIENCE_SECONDS, UnreadableFile, read_file

MAX_BYTES = 2 * 2**20
XLSX_READER = "grading.exchange.imports.xlsx_reader:read_workbook"
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
MAX_CHOICES_LENGTH = 255  # characters of a list in a rule of a cell (ECMA-376, from memory)
XLSX_MAGIC = b"PK\x03\x04"


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
    """Read a table; raise BadTable for a file that cannot be read, ReadersBusy if none can read it now.

    Empty lines and those with # are left out.
    """
    if not content.strip():
        raise BadTable("The file is empty.")
    if len(content) > MAX_BYTES:
        raise BadTable(f"The file is larger than {MAX_BYTES // 2**20} MB: divide it into several.")
    if content.startswith(XLSX_MAGIC):
        return _read_xlsx(content, PATIENCE_SECONDS)
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


def _read_xlsx(content: bytes, patience: float) -> Table:
    try:
        told = read_file(XLSX_READER, content, patience=patience)
    except UnreadableFile as unreadable:
        raise BadTable(f"{unreadable} Save the table alone in a new file, or as CSV.") from unreadable
    if told["problem"]:
        raise BadTable(told["problem"])
    rows = [(int(number), [str(cell) for cell in cells]) for number, cells in told["rows"]]
    return _build_table(rows, "XLSX, first sheet", date.fromisoformat(told["epoch"]))


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
        raise BadTable(f"Row {number} has more cells than there are headings: it is in the wrong columns.")
    for cell in cells:
        if len(cell) > MAX_CELL_CHARACTERS:
            raise BadTable(f"Row {number} has a cell of more than {MAX_CELL_CHARACTERS} characters: shorten it.")
        if any(unicodedata.category(sign) in ("Cc", "Cs") and sign not in "\n\r\t" for sign in cell):
            raise BadTable(f"Row {number} holds a character that cannot be read: retype that cell.")
    return TableRow(number, tuple(cells + [""] * (width - len(cells))))


def _strip_empty_end(cells: list[str]) -> list[str]:
    """Return the cells without the empty ones at the end."""
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def example_file(headings: list[str], explained: list[str], choices: dict[str, list[str]], form: str) -> bytes:
    """Return an empty file to fill in, "csv" or "xlsx": the headings, and lines that explain each column.

    Those lines begin with #, and are left out when the file is read. `choices`: by heading, what a column takes; a
    workbook offers it in a list.
    """
    made = tablib.Dataset(headers=headings, title="Fill in here")
    for line in explained:
        made.append([f"# {line}", *[""] * (len(headings) - 1)])
    if form == "xlsx":
        return _offer_choices(made.export("xlsx", column_width=18), headings, choices)
    text: str = made.export("csv")
    return text.encode("utf-8-sig")


def _offer_choices(workbook: bytes, headings: list[str], choices: dict[str, list[str]]) -> bytes:
    """Give each column its list to choose from; what is not in it may be typed all the same, and is checked here."""
    book = openpyxl.load_workbook(BytesIO(workbook))
    for heading, words in choices.items():
        formula = ",".join(words)
        # A list in a cell's rule is text between quotes, with commas between; a longer one is not read by spreadsheets.
        if not words or len(formula) > MAX_CHOICES_LENGTH or any("," in word or '"' in word for word in words):
            continue
        rule = DataValidation(type="list", formula1=f'"{formula}"', allow_blank=True, showErrorMessage=False)
        column = get_column_letter(headings.index(heading) + 1)
        rule.add(f"{column}2:{column}{MAX_ROWS}")
        book.active.add_data_validation(rule)
    written = BytesIO()
    book.save(written)
    return written.getvalue()
