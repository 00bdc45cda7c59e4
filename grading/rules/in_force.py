"""When a withdrawable decision holds: the one meaning, on plain days. `ReleaseQuerySet.in_force` asks it in SQL."""

from datetime import date


def is_withdrawn_by(withdrawn: date | None, on: date) -> bool:
    """Return whether a decision was withdrawn on a day or before it; `withdrawn` is a day of the school."""
    # A day is judged at its end: one who asks in the evening must not be told what was true in the morning.
    return withdrawn is not None and withdrawn <= on


def is_in_force(valid_from: date, valid_until: date, withdrawn: date | None, on: date) -> bool:
    """Return whether a decision with a term holds at the end of a day; both ends of the term belong to it."""
    return valid_from <= on <= valid_until and not is_withdrawn_by(withdrawn, on)
