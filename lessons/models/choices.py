"""Model choices from the pure words of lessons/rules/scale.py."""

from enum import StrEnum
from typing import Protocol

from lessons.rules.scale import Ending, Help, Level, Part, UnitKind


class _Labelled(Protocol):
    @property
    def value(self) -> str: ...
    @property
    def label(self) -> str: ...


def choices_of(words: type[StrEnum]) -> list[tuple[str, str]]:
    return [(word.value, word.label) for word in words]  # type: ignore[attr-defined]


LEVELS = choices_of(Level)
HELPS = choices_of(Help)
ENDINGS = choices_of(Ending)
PARTS = choices_of(Part)
UNIT_KINDS = choices_of(UnitKind)
