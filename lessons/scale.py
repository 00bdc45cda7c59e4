"""The words a manoeuvre is graded in: level, help, and how a circuit ended.

Pure: no Django, so that the readiness engine speaks the same words as the database.
Levels follow learner-centred grading (FAA-H-8083-9, Aviation Instructor's Handbook, manoeuvre grades);
*not observed* is missing evidence there and never a low level.
"""

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
        """0 for not observed, then 1 to 4: only ranks above 0 may be compared as levels."""
        return _LEVELS.index(self)

    @property
    def observed(self) -> bool:
        return self is not Level.NOT_OBSERVED


_LEVELS = tuple(Level)


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
        return _HELPS.index(self)


_HELPS = tuple(Help)


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


class Part(StrEnum):
    """The gradable parts of one circuit, in the order flown. A circuit has a landing or a go-around."""

    TAKEOFF = "takeoff"
    APPROACH = "approach"
    LANDING = "landing"
    GO_AROUND = "go_around"

    @property
    def label(self) -> str:
        return "Go-around" if self is Part.GO_AROUND else self.value.capitalize()


class UnitKind(StrEnum):
    GROUND = "ground"
    DUAL = "dual"
    SOLO = "solo"
    STAGE_CHECK = "stage_check"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ")
