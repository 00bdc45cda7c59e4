"""Name the kinds of landing that a type of aircraft is flown to. Pure.

Common practice: a tailwheel type is landed on three points or on its main wheels, any other one normally.
"""

from lessons.rules.scale import LandingKind


def kinds_of_type(tailwheel: bool) -> tuple[LandingKind, ...]:
    """Return the kinds, the usual one first."""
    if tailwheel:
        return (LandingKind.THREE_POINT, LandingKind.WHEEL, LandingKind.FLAPLESS, LandingKind.SHORT_FIELD)
    return (LandingKind.NORMAL, LandingKind.FLAPLESS, LandingKind.SHORT_FIELD, LandingKind.SOFT_FIELD)
