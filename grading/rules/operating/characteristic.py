"""Tabulate what the rules of a standard let through: the chance of being shown as met, by how well a student flies.

Such a table is called an operating characteristic in acceptance sampling: the chance of passing by what is true. Pure.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from grading.rules.operating.exact import ShownByThen, plan_lessons, shown_by_then
from grading.rules.operating.together import shown_together_by_then
from grading.rules.readiness.standard import StandardSpec
from grading.rules.readiness.success_rules import SuccessRule, rule_of

# Students who are to standard five, seven and nine times in ten: one who must not pass, one between, one who should.
SHARES = (0.5, 0.7, 0.9)
CIRCUITS = (20, 30, 40)
HORIZON = 100
# A few standards are looked at and changed a number at a time; each entry is some kilobytes.
CACHE_SIZE = 256


@dataclass(frozen=True, slots=True)
class PartGroup:
    """Hold the parts of the circuit that have one rule; `shown`: of one of them by itself, for each of SHARES."""

    parts: tuple[str, ...]
    rule: SuccessRule
    shown: tuple[ShownByThen, ...]


@dataclass(frozen=True, slots=True)
class Characteristic:
    """Say what the rules of a standard let through, at lessons of `per_lesson` circuits.

    groups: the parts by rule, each exactly; together: all parts at once, for each of SHARES, simulated.
    """

    per_lesson: int
    groups: tuple[PartGroup, ...]
    together: tuple[ShownByThen, ...]

    @property
    def error(self) -> float:
        """Return two standard errors of what was simulated, from 0 to 1."""
        return 2 * max((row.error for row in self.together), default=0.0)


def rules_by_part(standard: StandardSpec) -> dict[str, SuccessRule]:
    """Return the rule of each part of the circuit that a standard has one for, in the standard's order."""
    rules = {}
    for spec in standard.requirements:
        if (rule := rule_of(spec)) is not None:
            rules[spec.words("part")[0]] = rule
    return rules


def characteristic_of(rules: Mapping[str, SuccessRule], per_lesson: int) -> Characteristic:
    """Return what some rules by part let through. The same rules cost their computation once a process."""
    return _cached_characteristic(tuple(rules.items()), per_lesson)


@lru_cache(maxsize=CACHE_SIZE)
def _cached_characteristic(rules: tuple[tuple[str, SuccessRule], ...], per_lesson: int) -> Characteristic:
    parts_by_rule: dict[SuccessRule, list[str]] = {}
    for part, rule in rules:
        parts_by_rule.setdefault(rule, []).append(part)
    groups = tuple(
        PartGroup(tuple(parts), rule, tuple(_shown(rule, share, per_lesson) for share in SHARES))
        for rule, parts in parts_by_rule.items()
    )
    all_rules = tuple(rule for _, rule in rules)
    together = tuple(_shown_together(all_rules, share, per_lesson) for share in SHARES) if rules else ()
    return Characteristic(per_lesson, groups, together)


@lru_cache(maxsize=CACHE_SIZE)
def _shown(rule: SuccessRule, share: float, per_lesson: int) -> ShownByThen:
    return shown_by_then(rule, share, plan_lessons(HORIZON, per_lesson))


@lru_cache(maxsize=CACHE_SIZE)
def _shown_together(rules: tuple[SuccessRule, ...], share: float, per_lesson: int) -> ShownByThen:
    return shown_together_by_then(rules, [share] * len(rules), plan_lessons(HORIZON, per_lesson))
