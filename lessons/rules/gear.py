"""Name the landing gear to which a fault or a criterion belongs. Pure."""

from enum import StrEnum


class Gear(StrEnum):
    """Name what an aircraft type must have for a fault or a criterion to be offered on it."""

    ANY = ""
    TAILWHEEL = "tailwheel"
    NOSEWHEEL = "nosewheel"
    RETRACTABLE = "retractable"

    @property
    def label(self) -> str:
        return f"{self.value} types only" if self else "every type"

    def fits(self, *, tailwheel: bool, retractable: bool) -> bool:
        """Return whether a type with this gear can be flown with it."""
        match self:
            case Gear.TAILWHEEL:
                return tailwheel
            case Gear.NOSEWHEEL:
                return not tailwheel
            case Gear.RETRACTABLE:
                return retractable
        return True
