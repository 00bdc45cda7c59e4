"""Follow the faults of a student: each is open until enough clean attempts at its manoeuvre follow the last one."""

from collections import defaultdict
from dataclasses import dataclass

from grading.rules.readiness.facts import FaultFact
from grading.rules.readiness.history import FlownAttempt, History
from lessons.rules.scale import Level


@dataclass(frozen=True, slots=True)
class FaultStatus:
    """Describe one fault of one manoeuvre: where it was last seen, how often in all, clean attempts since."""

    code: str
    name: str
    critical: bool
    manoeuvre: str
    last: FlownAttempt
    times: int
    clean: int
    needed: int

    @property
    def is_open(self) -> bool:
        return self.clean < self.needed


def fault_statuses(history: History) -> tuple[FaultStatus, ...]:
    """Return the status of every fault ever seen, in the order in which they were last seen.

    A clean attempt is one that was observed and did not show this fault; not observed is no evidence.
    """
    return history.derive_once(_derive_statuses)


def _derive_statuses(history: History) -> tuple[FaultStatus, ...]:
    observed: dict[str, int] = defaultdict(int)
    # Per fault: as last seen, where, how often, and how many attempts had been observed by then.
    found: dict[tuple[str, str], tuple[FaultFact, FlownAttempt, int, int]] = {}
    for flown in history.attempts:
        attempt = flown.attempt
        level = attempt.level
        # As AttemptFact.observed says it, without a call: this runs for every attempt of every student.
        if level is not None and level is not Level.NOT_OBSERVED:
            observed[attempt.manoeuvre] += 1
        if not attempt.faults:
            continue
        # One attempt may show a fault twice, and counts once.
        for fault in {fault.code: fault for fault in attempt.faults}.values():
            key = attempt.manoeuvre, fault.code
            # Taken out and put in again, so that the order of the dictionary is that of the last sight.
            times = found.pop(key)[2] + 1 if key in found else 1
            found[key] = fault, flown, times, observed[attempt.manoeuvre]
    rows = []
    for (manoeuvre, code), (fault, last, times, by_then) in found.items():
        clean = observed[manoeuvre] - by_then
        rows.append(FaultStatus(code, fault.name, fault.critical, manoeuvre, last, times, clean, history.clean_needed))
    return tuple(rows)


def open_faults(history: History) -> list[FaultStatus]:
    """Return the faults still open: critical ones first, then by the one seen last."""
    rows = [row for row in reversed(fault_statuses(history)) if row.is_open]
    return sorted(rows, key=lambda row: not row.critical)
