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


@dataclass(frozen=True, slots=True)
class FaultCourse:
    """Follow one fault of one manoeuvre over the circuits flown, by their places in `History.circuits`.

    seen: where it was seen; spans: from where to where it was open, the last one without an end while it is.
    """

    code: str
    name: str
    critical: bool
    manoeuvre: str
    seen: tuple[int, ...]
    spans: tuple[tuple[int, int | None], ...]


@dataclass(slots=True)
class _OpenFault:
    fault: FaultFact
    seen: list[int]
    spans: list[tuple[int, int | None]]
    clean: int = 0

    def see(self, place: int) -> None:
        if not self.seen or self.seen[-1] != place:
            self.seen.append(place)
        if not self.spans or self.spans[-1][1] is not None:
            self.spans.append((place, None))
        self.clean = 0

    def fly_clean(self, place: int, needed: int) -> None:
        self.clean += 1
        if self.clean == needed and self.spans[-1][1] is None:
            self.spans[-1] = (self.spans[-1][0], place)


def fault_courses(history: History) -> list[FaultCourse]:
    """Return when each fault opened and cleared, by the rule of `fault_statuses`, in the order first seen.

    A manoeuvre flown by itself counts at the circuit before it.
    """
    courses: dict[tuple[str, str], _OpenFault] = {}
    by_manoeuvre: dict[str, list[str]] = defaultdict(list)
    place, circuit = -1, None
    for flown in history.attempts:
        attempt = flown.attempt
        if flown.circuit is not None and flown.circuit is not circuit:
            place, circuit = place + 1, flown.circuit
        seen = {fault.code: fault for fault in attempt.faults}
        if attempt.observed:
            for code in by_manoeuvre[attempt.manoeuvre]:
                if code not in seen:
                    courses[attempt.manoeuvre, code].fly_clean(max(place, 0), history.clean_needed)
        for code, fault in seen.items():
            key = attempt.manoeuvre, code
            if key not in courses:
                courses[key] = _OpenFault(fault, [], [])
                by_manoeuvre[attempt.manoeuvre].append(code)
            courses[key].see(max(place, 0))
    return [
        FaultCourse(code, row.fault.name, row.fault.critical, manoeuvre, tuple(row.seen), tuple(row.spans))
        for (manoeuvre, code), row in courses.items()
    ]
