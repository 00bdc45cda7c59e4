"""Find who was at standard and no longer is, by a cumulative sum over the attempts after a first full row. Pure.

It detects, it does not decide: no requirement rests on it.
"""

from functools import lru_cache

from grading.rules.readiness.checks.streaks import PART_GETTERS
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.standard import Policy
from grading.rules.readiness.statistics import CusumChart, design_cusum, last_alarm


@lru_cache(maxsize=16)
def _relapse_chart(policy: Policy) -> CusumChart:
    """Design the chart for the two failure rates of a policy; one standard is in force for many students."""
    return design_cusum(policy.relapse_good_failures_percent / 100, policy.relapse_bad_failures_percent / 100)


def find_slips(history: History) -> dict[str, FlownAttempt]:
    """Return the attempt that showed a slip, by part of the circuit; a part that has come back is left out."""
    slips = {}
    for part, pick in PART_GETTERS.items():
        flown = [row for row in history.part(pick) if row.attempt.observed]
        outcomes = [history.is_to_standard(row.attempt) for row in flown]
        # Failures before the first full row are learning and not slipping back.
        began = _index_after_first_streak(outcomes, history.streaks_needed[part])
        at = last_alarm(outcomes[began:], _relapse_chart(history.standard.policy)) if began is not None else None
        if began is not None and at is not None:
            slips[part] = flown[began + at]
    return slips


def _index_after_first_streak(outcomes: list[bool], needed: int) -> int | None:
    """Return the index after the first full row: from there on the student was at standard. None without one."""
    length = 0
    for place, good in enumerate(outcomes):
        length = length + 1 if good else 0
        if length == needed:
            return place + 1
    return None
