"""Faults seen of a student: open until so many clean attempts at that manoeuvre follow the last one."""

from dataclasses import dataclass

from grading.readiness.history import Flown, History


@dataclass(frozen=True, slots=True)
class FaultStanding:
    """One fault of one manoeuvre: where it was last seen, how often at all, clean attempts since."""

    code: str
    name: str
    critical: bool
    manoeuvre: str
    last: Flown
    times: int
    clean: int
    needed: int

    @property
    def is_open(self) -> bool:
        return self.clean < self.needed


def standing_faults(history: History) -> list[FaultStanding]:
    """Every fault ever seen, as it stands, in the order in which they were last seen.

    A clean attempt is one that was observed and did not show this fault; not observed is no evidence.
    """
    found: dict[tuple[str, str], FaultStanding] = {}
    for flown in history.attempts:
        attempt = flown.attempt
        seen = {fault.code: fault for fault in attempt.faults}
        for key, row in list(found.items()):
            if row.manoeuvre == attempt.manoeuvre and row.code not in seen and attempt.observed:
                found[key] = FaultStanding(
                    row.code, row.name, row.critical, row.manoeuvre, row.last, row.times, row.clean + 1, row.needed
                )
        for fault in seen.values():
            key = attempt.manoeuvre, fault.code
            times = found[key].times + 1 if key in found else 1
            found.pop(key, None)
            found[key] = FaultStanding(
                fault.code, fault.name, fault.critical, attempt.manoeuvre, flown, times, 0, history.clean_needed
            )
    return list(found.values())


def open_faults(history: History) -> list[FaultStanding]:
    """Those still open: critical ones first, then the one seen last."""
    rows = [row for row in reversed(standing_faults(history)) if row.is_open]
    return sorted(rows, key=lambda row: not row.critical)
