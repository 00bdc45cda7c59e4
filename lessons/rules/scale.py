"""Define the words a manoeuvre is graded in: level, scale, help, and how a circuit ended.

Pure: no Django, so that the readiness engine uses the same words as the database.
Levels follow learner-centred grading (FAA-H-8083-9, Aviation Instructor's Handbook, manoeuvre grades);
*not observed* is missing evidence there and never a low level.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    NOT_OBSERVED = "not_observed"
    DESCRIBE = "describe"
    EXPLAIN = "explain"
    PRACTICE = "practice"
    PERFORM = "perform"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ").capitalize()

    @property
    def rank(self) -> int:
        """Return 0 for not observed, then 1 to 4: only ranks above 0 may be compared as levels."""
        return _RANKS[self]

    @property
    def observed(self) -> bool:
        return self is not Level.NOT_OBSERVED


# Built once: the rank of a level is asked for every attempt, and a search through the enumeration costs more.
_RANKS = {level: rank for rank, level in enumerate(Level)}


class GradingRule(StrEnum):
    """Name which attempts of a lesson make its grade."""

    LAST_TWO = "last_two"
    WEAKEST = "weakest"


@dataclass(frozen=True, slots=True)
class Step:
    """Define one step of a scale: the school's word, and the level that it means to the engine."""

    code: str
    label: str
    level: Level
    meaning: str = ""


NOT_OBSERVED = Step("not_observed", "Not observed", Level.NOT_OBSERVED, "nobody has looked")


class ScaleError(ValueError):
    """Refuse a scale that cannot be used; the text gives the reason."""


@dataclass(frozen=True)
class Scale:
    """Define an ordered scale, lowest step first. `solo`: the lowest step that is to standard alone."""

    code: str
    title: str
    steps: tuple[Step, ...]
    solo: str
    rule: GradingRule = GradingRule.LAST_TWO

    def __post_init__(self) -> None:
        levels = [step.level for step in self.steps]
        if len(self.steps) < 2 or len({step.code for step in self.steps}) < len(self.steps):
            raise ScaleError(f"{self.title}: a scale has at least two steps, each with a code of its own")
        # As a step it would have a rank, and a lesson in which nobody looked would count as a poor one.
        if Level.NOT_OBSERVED in levels or NOT_OBSERVED.code in {step.code for step in self.steps}:
            raise ScaleError(f"{self.title}: not observed is missing evidence and never a step")
        # Caps look for a lower step by its place: in another order a cap could raise what was tapped.
        if [level.rank for level in levels] != sorted(level.rank for level in levels):
            raise ScaleError(f"{self.title}: a higher step means at least the level of the one below it")
        alone = [step.code for step in self.steps if step.level is Level.PERFORM]
        # The engine judges levels and people read steps: both must put the solo standard at the same place.
        if not alone or alone[0] != self.solo:
            raise ScaleError(f"{self.title}: the solo step is the lowest one that means {Level.PERFORM.label}")
        # A cap would have nowhere to go: help or a critical fault would still count as to standard.
        if all(step.level is Level.PERFORM for step in self.steps):
            raise ScaleError(f"{self.title}: no step is below the solo step")

    @property
    def keys(self) -> tuple[Step, ...]:
        """Return the steps in the order of the keys: from the lowest to the highest, not observed last."""
        return (*self.steps, NOT_OBSERVED)

    def step(self, code: str) -> Step:
        """Return the step with a code. KeyError for a code that this scale does not have."""
        for step in self.keys:
            if step.code == code:
                return step
        raise KeyError(code)

    def rank(self, step: Step) -> int:
        """Return 0 for not observed, then 1 for the lowest."""
        return 0 if step == NOT_OBSERVED else self.steps.index(step) + 1

    def cap(self, step: Step, level: Level) -> Step:
        """Return the step itself, or the highest below it that means no more than a level; at least the lowest."""
        if step.level.rank <= level.rank:
            return step
        return next((lower for lower in reversed(self.steps) if lower.level.rank <= level.rank), self.steps[0])

    def lowest_step_for(self, level: Level) -> Step:
        """Return the lowest step that means at least this level, in which an expected level is written."""
        if not level.observed:
            return NOT_OBSERVED
        return next((step for step in self.steps if step.level.rank >= level.rank), self.steps[-1])

    def lowest(self, steps: Sequence[Step]) -> Step:
        return min(steps, key=self.rank)


LEARNER_CENTRED = Scale(
    "learner-centred",
    "Learner-centred grades",
    (
        Step("describe", "Describe", Level.DESCRIBE, "can describe it, needs help to do it"),
        Step("explain", "Explain", Level.EXPLAIN, "understands it, still needs help to carry it out"),
        Step("practice", "Practice", Level.PRACTICE, "carries it out, deviations corrected with coaching"),
        Step("perform", "Perform", Level.PERFORM, "carries it out without help, to standard"),
    ),
    solo="perform",
)


class Help(StrEnum):
    NONE = "none"
    PROMPTED = "prompted"
    ASSISTED = "assisted"
    TOOK_CONTROL = "took_control"

    @property
    def label(self) -> str:
        return {"none": "no help", "took_control": "instructor took control"}.get(self.value, self.value)

    @property
    def rank(self) -> int:
        return _HELP_ORDER.index(self)


_HELP_ORDER = tuple(Help)


class Ending(StrEnum):
    FULL_STOP = "full_stop"
    TOUCH_AND_GO = "touch_and_go"
    GO_AROUND = "go_around"
    TOOK_CONTROL = "took_control"

    @property
    def label(self) -> str:
        return {
            "full_stop": "full stop",
            "touch_and_go": "touch and go",
            "go_around": "go-around",
            "took_control": "instructor took control",
        }[self.value]


class LandingKind(StrEnum):
    """Name how a landing was meant to be flown. A crosswind is told from the wind of the day and is no kind."""

    THREE_POINT = "three_point"
    WHEEL = "wheel"
    NORMAL = "normal"
    FLAPLESS = "flapless"
    SHORT_FIELD = "short_field"
    SOFT_FIELD = "soft_field"

    @property
    def label(self) -> str:
        return {"three_point": "three-point", "short_field": "short field", "soft_field": "soft field"}.get(
            self.value, self.value
        )


class Part(StrEnum):
    """Name the gradable parts of one circuit, in the order flown. It may have a landing, a go-around or both."""

    TAKEOFF = "takeoff"
    DOWNWIND = "downwind"
    APPROACH = "approach"
    LANDING = "landing"
    GO_AROUND = "go_around"

    @property
    def label(self) -> str:
        return "Go-around" if self is Part.GO_AROUND else self.value.capitalize()


# Which part of a circuit the numbers of a gate are noted under.
PART_BY_GATE_PHASE = {
    "takeoff": Part.TAKEOFF,
    "circuit": Part.DOWNWIND,
    "approach": Part.APPROACH,
    "landing": Part.LANDING,
}


class UnitKind(StrEnum):
    GROUND = "ground"
    DUAL = "dual"
    SOLO = "solo"
    STAGE_CHECK = "stage_check"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ")
