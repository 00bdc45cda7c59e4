"""Write lines of CSV files that a person opens in a spreadsheet."""

import csv
from collections.abc import Iterable, Iterator
from io import StringIO

# A cell that begins with one of these is read as a formula; an apostrophe before it keeps it text. A spreadsheet set to
# semicolons or tabs begins a cell after each of those and after a line feed, also within what is one cell here.
FORMULA_SIGNS = frozenset("=+-@＝＋－＠")  # the last four: the wide forms
CELL_STARTS = frozenset(";\t\r\n")
BLANK_CHARACTERS = ("\t", "\r", "\n")


def format_line(cells: Iterable[object]) -> str:
    """Return one line of CSV (RFC 4180), ending with CR LF. None is an empty cell."""
    out = StringIO()
    csv.writer(out).writerow([_escape_formula("" if cell is None else str(cell)) for cell in cells])
    return out.getvalue()


def _escape_formula(cell: str) -> str:
    """Put an apostrophe before each sign that could begin a formula. One pass: a long cell may be somebody's weapon."""
    plain = cell if FORMULA_SIGNS.isdisjoint(cell) else "".join(_escaped_characters(cell))
    return f"'{plain}" if plain.startswith(BLANK_CHARACTERS) else plain


def _escaped_characters(cell: str) -> Iterator[str]:
    starts, separated = True, False  # whether a cell may begin at this character, and after a separator
    for char in cell:
        if starts and char in FORMULA_SIGNS:
            yield "'"
        yield char
        if char in CELL_STARTS:
            starts = separated = True
        else:
            # Blanks after a separator are passed over by a spreadsheet; those that begin the whole cell are not.
            starts = starts and separated and char.isspace()
