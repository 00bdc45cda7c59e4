"""Compare flight time with the least that a rule requires for a private pilot's certificate. Pure.

Source: 14 CFR 61.109(a), single-engine aeroplanes: 40 h in all, of which 20 h of training and 10 h solo; of the
training 3 h at night (a)(2) and 3 h by reference to instruments (a)(3). The hours of the European rules were not
verified, so none are given. They measure nothing but time.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class MinimumTime:
    """Set the time flown so far beside the least required, in minutes."""

    what: str
    flown: int
    needed: int
    source: str

    @property
    def missing(self) -> int:
        return max(0, self.needed - self.flown)


US_MINIMA = (
    ("All flight time", ("dual_minutes", "solo_minutes"), 40, "14 CFR 61.109(a)"),
    ("Flight training", ("dual_minutes",), 20, "14 CFR 61.109(a)"),
    ("Solo", ("solo_minutes",), 10, "14 CFR 61.109(a)(5)"),
    ("At night, with an instructor", ("night_minutes",), 3, "14 CFR 61.109(a)(2)"),
    ("By instruments, with an instructor", ("instrument_minutes",), 3, "14 CFR 61.109(a)(3)"),
)
# A number that was not verified would be worse than none: a student might plan by it.
MINIMA_BY_RULE_SET = {"us": US_MINIMA}


def compare_with_minima(rule_set: str, minutes: Mapping[str, int]) -> list[MinimumTime]:
    """Return each minimum beside the time flown; empty for rules whose hours were not verified.

    minutes: by the names of a lesson's fields.
    """
    return [
        MinimumTime(what, sum(minutes.get(name, 0) for name in names), hours * 60, source)
        for what, names, hours, source in MINIMA_BY_RULE_SET.get(rule_set, ())
    ]
