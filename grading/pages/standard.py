"""This module says what the rules of a standard let through: in a sentence, in tables and in a figure."""

from dataclasses import dataclass

from grading.reading.lesson_length import LEAST_LESSONS, LessonLength
from grading.rules.operating.alarms import mean_run_to_alarm
from grading.rules.operating.characteristic import (
    CIRCUITS,
    SHARES,
    Characteristic,
    PartGroup,
    characteristic_of,
    rules_by_part,
)
from grading.rules.operating.exact import ShownByThen
from grading.rules.readiness.standard import StandardSpec
from grading.rules.readiness.statistics import RECOVERED_IN_A_ROW, design_cusum
from grading.rules.readiness.success_rules import Share, SuccessRule
from grading.rules.readiness.wording import count_noun
from school import marks

FIGURE_HORIZON, MARKED = 60, 30
FROM_TRACKS_HELP = (
    "One that counts is inside only where its whole uncertainty lies inside the tolerance; where it reaches over an"
    " edge, it counts as not inside."
)
VERBS = {"takeoff": "take off", "approach": "approach", "landing": "land"}
HALF, MOST = 0, len(SHARES) - 1  # who must not pass and who should, by their place in SHARES


@dataclass(frozen=True)
class ChanceRow:
    """One kind of student: how well they fly, the chance in 100 within each of CIRCUITS, and the median in words."""

    who: str
    within: tuple[str, ...]
    median: str


@dataclass(frozen=True)
class GroupTable:
    """The parts with one rule: their names, the rule in words, the table of one of them and the lines of its figure."""

    parts: str
    rule: str
    rows: list[ChanceRow]
    series: list[marks.ChanceSteps]

    @property
    def label(self) -> str:
        return f"{self.parts}: chance in 100 of being shown as met, by circuits flown"

    @property
    def ticks(self) -> list[int]:
        return [circuits for circuits in CIRCUITS if circuits < FIGURE_HORIZON]

    @property
    def horizon(self) -> int:
        return FIGURE_HORIZON

    @property
    def marked(self) -> int:
        return MARKED


@dataclass(frozen=True)
class LetsThrough:
    """What one standard lets through. `together`: all parts at one lesson's end; empty where there is only one part."""

    key: str
    characteristic: Characteristic
    groups: list[GroupTable]
    together: list[ChanceRow]
    parts: int

    @property
    def error_words(self) -> str:
        """Return twice the standard error of what was simulated, in students of a hundred."""
        return f"±{max(round(100 * self.characteristic.error), 1)}"


def build_lets_through(standard: StandardSpec, length: LessonLength) -> LetsThrough:
    """Return what a standard lets through at the school's usual lesson."""
    rules = rules_by_part(standard)
    table = characteristic_of(rules, length.circuits)
    together = _rows(table.together) if len(rules) > 1 else []
    return LetsThrough(standard.key, table, [_group(row) for row in table.groups], together, len(rules))


def rule_words(rule: SuccessRule) -> str:
    """Return 'at least 9 of the last 10 to standard, over at least 2 lessons, the newest to standard'."""
    over = f"over at least {count_noun(rule.lessons, 'lesson')}"
    if isinstance(rule, Share):
        return f"at least {rule.good} of the last {rule.last} to standard, {over}, the newest to standard"
    return f"{rule.needed} in a row to standard, {over}"


def headline(in_force: LetsThrough, draft: LetsThrough | None = None) -> str:
    """Return what the rules do with a student who flies to standard half of the time, in one sentence."""
    group = _told_group(in_force.characteristic)
    other = _told_group(draft.characteristic) if draft else None
    if group is None:
        return "This standard asks for no number of takeoffs, approaches or landings to standard."
    if draft is None or other is None:
        part = group.parts[-1]
        chance = _in_hundred(group.shown[HALF].within(MARKED))
        return (
            f"Of 100 students who {_verb(part)} to standard only half of the time, {chance} are shown as met on"
            f" {_plural(part)} within {MARKED} circuits."
        )
    part = other.parts[-1]
    before, after = group.shown[HALF].within(MARKED), other.shown[HALF].within(MARKED)
    who = f"students who {_verb(part)} to standard only half of the time"
    if _in_hundred(before) == _in_hundred(after):
        return f"The draft lets through as many {who}: {_in_hundred(after)} in 100."
    more = "more" if after > before else "fewer"
    return f"The draft lets through {more} {who}: {_in_hundred(after)} in 100 instead of {_in_hundred(before)}."


def sub_headline(length: LessonLength, in_force: LetsThrough, draft: LetsThrough | None = None) -> str:
    """Return the length of a lesson that the headline rests on, and what the rules cost a good student."""
    if length.lessons:
        usual = f"at the school’s usual lesson of {count_noun(length.circuits, 'circuit')}"
    else:
        usual = (
            f"at {count_noun(length.circuits, 'circuit')} a lesson, because fewer than {LEAST_LESSONS} signed lessons"
            " with circuits are on record for the last 12 months"
        )
    sentence = f"Within {MARKED} circuits, {usual}."
    group = _told_group(in_force.characteristic)
    other = _told_group(draft.characteristic) if draft else group
    if group is None or other is None:
        return sentence
    before, after = group.shown[MOST].median, other.shown[MOST].median
    instead = f" instead of {_median_words(before)}" if before != after else ""
    return (
        f"{sentence} Half of those who {_verb(other.parts[-1])} to standard 9 times in 10 are shown as met after"
        f" {_median_words(after)} circuits{instead}."
    )


def alarm_words(standard: StandardSpec) -> str:
    """Return how often the notice of slipping back comes for nothing, and how soon with reason."""
    policy = standard.policy
    good, bad = policy.relapse_good_failures_percent, policy.relapse_bad_failures_percent
    chart = design_cusum(good / 100, bad / 100)
    parts = max(len(rules_by_part(standard)), 1)
    for_nothing, with_reason = mean_run_to_alarm(chart, good / 100, parts), mean_run_to_alarm(chart, bad / 100)
    return (
        f"With {good} % failures in {'each of ' if parts > 1 else ''}{count_noun(parts, 'part')}, “slipped back” is"
        f" shown for nothing about once in {round(for_nothing)} circuits. With {bad} % failures in one part it is shown"
        f" after about {round(with_reason)} attempts. It stays until {RECOVERED_IN_A_ROW} in a row are to standard."
    )


def _told_group(table: Characteristic) -> PartGroup | None:
    """Return the group that the headline tells of: that of the landing, else the last one."""
    return next((row for row in table.groups if "landing" in row.parts), table.groups[-1] if table.groups else None)


def _group(group: PartGroup) -> GroupTable:
    names = ", ".join(group.parts).capitalize()
    series = [
        marks.ChanceSteps(_share_words(share), list(zip(shown.ends, shown.chances, strict=True)))
        for share, shown in reversed(list(zip(SHARES, group.shown, strict=True)))
    ]
    return GroupTable(names, rule_words(group.rule), _rows(group.shown), series)


def _rows(shown: tuple[ShownByThen, ...]) -> list[ChanceRow]:
    return [
        ChanceRow(
            _share_words(share),
            tuple(_in_hundred(row.within(circuits)) for circuits in CIRCUITS),
            _median_words(row.median),
        )
        for share, row in zip(SHARES, shown, strict=True)
    ]


def _share_words(share: float) -> str:
    return f"{round(10 * share)} in 10"


def _in_hundred(chance: float) -> str:
    """Return a chance as students of a hundred; what is rare is not told as never, nor what is likely as certain."""
    if 0 < chance < 0.005:
        return "under 1"
    if 0.995 <= chance < 1:
        return "over 99"
    return str(round(100 * chance))


def _median_words(median: int | None) -> str:
    return "over 100" if median is None else str(median)


def _verb(part: str) -> str:
    return VERBS.get(part, f"fly the {part}")


def _plural(part: str) -> str:
    return part + ("es" if part.endswith("ch") else "s")
