"""Describe what the engine answers. A verdict is evidence for a person's decision and never a permission.

It holds keys and values; the words are made when they are read, by sentences.py.
"""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from grading.rules.readiness.sentences import Said, said, say, say_first

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

    what: Said
    lesson: int | None = None
    circuit: int | None = None
    id: str = ""

    @property
    def text(self) -> str:
        return say_first(self.what)


@dataclass(frozen=True, slots=True)
class CheckResult:
    """Hold the result of one check; the engine adds what the standard says about the requirement.

    more: the fewest good attempts or circuits after which it would be met, where that can be counted.
    """

    state: State
    far: Said
    done: int | None = None
    needed: int | None = None
    evidence: tuple[Evidence, ...] = ()
    to_meet: Said | None = None
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
    far: Said
    done: int | None = None
    needed: int | None = None
    evidence: tuple[Evidence, ...] = ()
    to_meet: Said | None = None
    since: date | None = None
    until: date | None = None
    aside: Said | None = None
    more: int | None = None

    @property
    def how_far(self) -> str:
        return say(self.far)

    @property
    def would_meet(self) -> str:
        return say(self.to_meet) if self.to_meet else ""

    @property
    def reason(self) -> str:
        """Return who set it aside and why; empty where nobody has."""
        return say(self.aside) if self.aside else ""

    @property
    def sentence(self) -> str:
        """Return the title with how far it is: 'Three landings in a row to standard: 2 of 3'."""
        return say(said("requirement", title=self.title, far=self.far))


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
        return say_first(said("ready" if self.ready else "not_ready", far=self._count))

    @property
    def count_words(self) -> str:
        """Return how many are met or open as a clause: 'all 18 requirements are met since 3 November 2026'."""
        return say(self._count)

    @property
    def _count(self) -> Said:
        total, unmet = len(self.requirements), len(self.unmet)
        if unmet:
            return said("open", count=unmet, total=total)
        key = "all_met"
        if any(outcome.state is State.SET_ASIDE for outcome in self.requirements):
            key = "all_met_or_set_aside"
        return said(f"{key}_since", total=total, since=self.since) if self.since else said(key, total=total)
