"""Find who was at standard and no longer is, by a cumulative sum over the attempts after a first full row. Pure.

It detects, it does not decide: no requirement rests on it.
"""

from dataclasses import replace
from functools import lru_cache

from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.standard import Policy
from grading.rules.readiness.statistics import CusumChart, design_cusum, last_alarm
from grading.rules.readiness.success_rules import SuccessRule

# No rule looks back farther: a standard asks for at most so many attempts.
MOST_LOOKED_AT = 50


@lru_cache(maxsize=16)
def _relapse_chart(policy: Policy) -> CusumChart:
    """Design the chart for the two failure rates of a policy; one standard is in force for many students."""
    return design_cusum(policy.relapse_good_failures_percent / 100, policy.relapse_bad_failures_percent / 100)


def find_slips(history: History) -> dict[str, FlownAttempt]:
    """Return the attempt that showed a slip, by part of the circuit; a part that has come back is left out."""
    slips = {}
    for part, rule in history.rules.items():
        flown = history.outcomes(part)
        outcomes = [good for _, good in flown]
        # Failures before the rule was met first are learning and not slipping back.
        began = _index_after_met(flown, rule)
        at = last_alarm(outcomes[began:], _relapse_chart(history.standard.policy)) if began is not None else None
        if began is not None and at is not None:
            slips[part] = flown[began + at][0]
    return slips


def _index_after_met(flown: list[tuple[FlownAttempt, bool]], rule: SuccessRule) -> int | None:
    """Return the index after the attempt with which the rule was met first; None where it never was."""
    # Whatever lessons they were flown in: this asks when the student could do it, not on how many days.
    anywhere = replace(rule, lessons=1)
    outcomes = [(attempt.lesson.number, good) for attempt, good in flown]
    for count in range(1, len(outcomes) + 1):
        if outcomes[count - 1][1] and anywhere.is_met(outcomes[max(count - MOST_LOOKED_AT, 0) : count]):
            return count
    return None
