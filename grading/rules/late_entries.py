"""When a tap was made, by the school's clock, and whether it may replace one of another device.

Two devices have no clock in common, and either may be wrong by a year. Trusted are: the order in which one device
made its own taps, the order in which taps reached the school, what a device had seen when a tap was made, and the
time that passed on one device between a tap and its sending. The hour that a device shows is not.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

# Two entries that write the same thing.
SAME_ENTRIES = (("ending", "took_control"),)


def moment_at_school(*, received: datetime, sent: datetime | None, tapped: datetime | None) -> datetime | None:
    """Return the school's moment of a tap: when it was received, less what passed on the device since the tap.

    `sent`, `tapped`: the device's own clock. None where it tells nothing: it is missing, or was set back meanwhile.
    """
    if sent is None or tapped is None or sent < tapped:
        return None
    try:
        return received - (sent - tapped)
    except OverflowError:
        return None


def clock_was_set_back(tapped: Sequence[datetime | None]) -> bool:
    """Return whether a clock went back between taps of one device, which are given in their order."""
    known = [moment for moment in tapped if moment is not None]
    return any(later < earlier - timedelta(seconds=1) for earlier, later in pairwise(known))


def may_replace(late: datetime | None, standing: datetime) -> bool:
    """Return whether a tap that had not seen the standing one may replace it: only one that is surely newer."""
    return late is not None and late > standing


def fields_of_same_entry(field: str) -> list[str]:
    """Return the fields that write what this one writes, itself among them."""
    stem, _, what = field.rpartition(".")
    for names in SAME_ENTRIES:
        if field.startswith("circuit.") and what in names:
            return [f"{stem}.{name}" for name in names]
    return [field]
