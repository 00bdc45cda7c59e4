"""Build model choices from the enums of lessons/rules."""

from enum import StrEnum

from lessons.rules.gear import Gear
from lessons.rules.scale import Ending, Help, LandingKind, Level, Part, UnitKind


def enum_choices(words: type[StrEnum]) -> list[tuple[str, str]]:
    return [(word.value, word.label) for word in words]  # type: ignore[attr-defined]


LEVELS = enum_choices(Level)
HELPS = enum_choices(Help)
ENDINGS = enum_choices(Ending)
LANDING_KINDS = enum_choices(LandingKind)
PARTS = enum_choices(Part)
UNIT_KINDS = enum_choices(UnitKind)
GEARS = enum_choices(Gear)
