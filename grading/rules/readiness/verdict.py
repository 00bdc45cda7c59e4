"""Describe what the engine answers. A verdict is evidence for a person's decision and never a permission."""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from grading.rules.readiness.dates import long_date

# Raised when a verdict, or the row of the board that is stored with it, may come out differently.
ENGINE_VERSION = "6"


class State(StrEnum):
    MET = "met"
    OPEN = "open"
    LAPSED = "lapsed"
    NOT_KNOWN = "not_known"
    SET_ASIDE = "set_aside"

    @property
    def label(self) -> str:
        return "expired" if self is State.LAPSED else self.value.replace("_", " ")

    @property
    def counts(self) -> bool:
        return self in (State.MET, State.SET_ASIDE)


@dataclass(frozen=True, slots=True)
class Evidence:
    """Point to what an outcome rests on. `lesson` and `circuit` are their numbers, `id` names the lesson's page."""

    text: str
    lesson: int | None = None
    circuit: int | None = None
    id: str = ""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """Hold the result of one check; the engine adds what the standard says about the requirement.

    more: the fewest good attempts or circuits after which it would be met, where that can be counted.
    """

    state: State
    how_far: str
    done: int | None = None
    needed: int | None = None
    evidence: tuple[Evidence, ...] = ()
    would_meet: str = ""
    since: date | None = None
    until: date | None = None
    more: int | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    key: str
    title: str
    group: str
    kind: str
    source: str
    state: State
    how_far: str
    done: int | None = None
    needed: int | None = None
    evidence: tuple[Evidence, ...] = ()
    would_meet: str = ""
    since: date | None = None
    until: date | None = None
    reason: str = ""
    more: int | None = None

    @property
    def sentence(self) -> str:
        """Return the title with how far it is: 'Three landings in a row to standard: 2 of 3'."""
        return f"{self.title}: {self.how_far}"


@dataclass(frozen=True)
class Verdict:
    student: str
    aircraft_type: str
    on: date
    standard: str
    rule_set: str
    requirements: tuple[Outcome, ...]
    engine: str = field(default=ENGINE_VERSION)

    @property
    def unmet(self) -> tuple[Outcome, ...]:
        return tuple(outcome for outcome in self.requirements if not outcome.state.counts)

    @property
    def ready(self) -> bool:
        return not self.unmet

    @property
    def since(self) -> date | None:
        """Return the latest day on which a requirement was met; None unless all are met and some day is known."""
        days = [outcome.since for outcome in self.requirements]
        return max(day for day in days if day) if self.ready and any(days) else None

    @property
    def headline(self) -> str:
        words = self.count_words
        return f"{words[0].upper()}{words[1:]}." if self.ready else f"Not ready for first solo yet: {words}."

    @property
    def count_words(self) -> str:
        """Return how many are met or open as a clause: 'all 18 requirements are met since 3 November 2026'."""
        total, unmet = len(self.requirements), len(self.unmet)
        if unmet:
            return f"{unmet} of {total} requirements {'is' if unmet == 1 else 'are'} open"
        aside = sum(outcome.state is State.SET_ASIDE for outcome in self.requirements)
        since = f" since {long_date(self.since)}" if self.since else ""
        return f"all {total} requirements are met{' or set aside' if aside else ''}{since}"
