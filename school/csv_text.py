"""Write lines of CSV files that a person opens in a spreadsheet."""

import csv
import re
from collections.abc import Iterable
from io import StringIO

# A cell that begins with one of these is read as a formula; an apostrophe before it keeps it text. A spreadsheet set to
# semicolons or tabs begins a cell after each of those and after a line feed, also within what is one cell here.
FORMULA_START = re.compile(r"(^[\t\r\n]*|[;\t\r\n]\s*)(?=[=+\-@＝＋－＠])")  # the last four: the wide forms
BLANK_CHARACTERS = ("\t", "\r", "\n")


def format_line(cells: Iterable[object]) -> str:
    """Return one line of CSV (RFC 4180), ending with CR LF. None is an empty cell."""
    out = StringIO()
    csv.writer(out).writerow([_escape_formula("" if cell is None else str(cell)) for cell in cells])
    return out.getvalue()


def _escape_formula(cell: str) -> str:
    plain = FORMULA_START.sub(r"\1'", cell)
    return f"'{plain}" if plain.startswith(BLANK_CHARACTERS) else plain
