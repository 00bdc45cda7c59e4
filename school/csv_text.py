"""Lines of CSV files that a person opens in a spreadsheet."""

import csv
from collections.abc import Iterable
from io import StringIO

# A cell that begins with one of these is read as a formula; an apostrophe before it keeps it text.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def line(cells: Iterable[object]) -> str:
    """One line, RFC 4180, ending with CR LF. None is an empty cell."""
    out = StringIO()
    csv.writer(out).writerow([_plain("" if cell is None else str(cell)) for cell in cells])
    return out.getvalue()


def _plain(cell: str) -> str:
    return f"'{cell}" if cell.startswith(FORMULA) else cell
