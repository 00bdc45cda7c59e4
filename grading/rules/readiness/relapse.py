"""Who was at standard and no longer is, by a cumulative sum over the attempts after the first full row. Pure.

It detects, it does not decide: no requirement rests on it.
"""

from grading.rules.readiness.checks.rows import PARTS
from grading.rules.readiness.history import Flown, History
from grading.rules.readiness.statistics import slipped_at, watch

# One failure in ten is still at standard, one in three no longer: the project's own choice, not a published pair.
CHART = watch(0.10, 0.33)


def slips(history: History) -> dict[str, Flown]:
    """The attempt that showed it, by part of the circuit; only parts that slipped and have not come back."""
    found = {}
    for part, pick in PARTS.items():
        flown = [row for row in history.part(pick) if row.attempt.observed]
        began = _after_first_row([history.to_standard(row.attempt) for row in flown], history.row_needed)
        at = slipped_at((history.to_standard(row.attempt) for row in flown[began:]), CHART) if began else None
        if began is not None and at is not None:
            found[part] = flown[began + at]
    return found


def _after_first_row(outcomes: list[bool], needed: int) -> int | None:
    """The place after the first full row: from there on the student was at standard."""
    length = 0
    for place, good in enumerate(outcomes):
        length = length + 1 if good else 0
        if length == needed:
            return place + 1
    return None
