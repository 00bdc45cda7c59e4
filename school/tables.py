"""What is written into tables for spreadsheets."""


def harmless(cell: object) -> str:
    """The text of a cell; a leading sign that a spreadsheet would take for a formula is made harmless."""
    text = str(cell)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
