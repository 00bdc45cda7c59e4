"""Who was at standard and no longer is, by a cumulative sum over the attempts after the first full row. Pure.

It detects, it does not decide: no requirement rests on it.
"""

from grading.rules.readiness.checks.streaks import PART_GETTERS
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.statistics import design_cusum, last_alarm

# One failure in ten is still at standard, one in three no longer: the project's own choice, not a published pair.
RELAPSE_CHART = design_cusum(0.10, 0.33)


def find_slips(history: History) -> dict[str, FlownAttempt]:
    """The attempt that showed it, by part of the circuit; only parts that slipped and have not come back."""
    slips = {}
    for part, pick in PART_GETTERS.items():
        flown = [row for row in history.part(pick) if row.attempt.observed]
        outcomes = [history.is_to_standard(row.attempt) for row in flown]
        began = _index_after_first_streak(outcomes, history.streaks_needed[part])
        at = last_alarm(outcomes[began:], RELAPSE_CHART) if began is not None else None
        if began is not None and at is not None:
            slips[part] = flown[began + at]
    return slips


def _index_after_first_streak(outcomes: list[bool], needed: int) -> int | None:
    """The place after the first full row: from there on the student was at standard."""
    length = 0
    for place, good in enumerate(outcomes):
        length = length + 1 if good else 0
        if length == needed:
            return place + 1
    return None
