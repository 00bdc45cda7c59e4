"""Say what a lesson showed: what was good, the one thing to do better, what changed since the lesson before. Pure."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from grading.rules.readiness.checks.parts import progress_by_part
from grading.rules.readiness.faults import FaultStatus, open_faults
from grading.rules.readiness.history import History
from grading.rules.readiness.wording import count_noun
from lessons.rules.scale import Part

# The downwind is named: a circuit is the whole round.
PART_NOUNS = {part: "downwind leg" if part is Part.DOWNWIND else part.value.replace("_", "-") for part in Part}


@dataclass(frozen=True)
class PartResult:
    """How often a part was flown in a lesson, and how often to standard without help."""

    part: Part
    flown: int
    good: int

    @property
    def words(self) -> str:
        """Return '4 of 6 landings'."""
        return f"{self.good} of {count_noun(self.flown, self.noun)}"

    @property
    def noun(self) -> str:
        return PART_NOUNS[self.part]


@dataclass(frozen=True)
class FaultInLesson:
    """A fault as it was seen in a lesson: where, and whether it is critical. `place`: its part's place in a circuit."""

    code: str
    name: str
    critical: bool
    times: int
    place: int


@dataclass(frozen=True)
class PartChange:
    """How far a part is by its rule at the end of a lesson, and at the end of the one before."""

    part: str
    here: str
    before: str
    more: int

    @property
    def changed(self) -> bool:
        return self.here != self.before


@dataclass(frozen=True)
class Changes:
    """What a lesson changed: how far each part is, faults that opened and those that cleared."""

    parts: tuple[PartChange, ...]
    opened: tuple[FaultStatus, ...]
    cleared: tuple[FaultStatus, ...]


def part_results(history: History, lesson: int) -> list[PartResult]:
    """Return each part that was flown in a lesson, by its number, in the order flown."""
    circuits = [circuit for row, circuit in history.circuits if row.number == lesson]
    results = []
    for part in Part:
        judged = [
            good
            for circuit in circuits
            if (attempt := getattr(circuit, part.value)) is not None and (good := history.judge(attempt)) is not None
        ]
        if judged:
            results.append(PartResult(part, len(judged), sum(judged)))
    return results


def fault_order(row: FaultInLesson) -> tuple[bool, int, int]:
    """Return the key of the fault to work on first: a critical one, then that seen most often, then the later one."""
    # The later in the circuit: it is nearer to the ground.
    return row.critical, row.times, row.place


def good_words(results: Sequence[PartResult]) -> str:
    """Return what was good in words: parts flown to standard each time, else the part that was so most often."""
    if not results:
        return ""
    whole = [row for row in results if row.good == row.flown]
    if len(whole) == len(results):
        return "every part to standard without help"
    if whole:
        return f"{_join([_whole_words(row) for row in whole])} to standard without help"
    best = max(results, key=lambda row: row.good / row.flown)
    return f"{best.words} to standard without help" if best.good else "nothing to standard without help yet"


def headline(circuits: int, good: str, better: str) -> str:
    """Return the lesson in a sentence: what was good, then the one thing to do better; empty where there is none."""
    many = count_noun(circuits, "circuit") if circuits else "No circuits"
    first = f"{many}: {good}" if good else many
    return f"{first}; to do better: {better}." if better else f"{first}."


def changes(before: History, after: History) -> Changes:
    """Return what changed from one history to a later one."""
    earlier = progress_by_part(before)
    parts = tuple(
        PartChange(part, row.words, earlier[part].words if part in earlier else "", row.more)
        for part, row in progress_by_part(after).items()
    )
    was, now = _by_key(open_faults(before)), _by_key(open_faults(after))
    return Changes(
        parts,
        tuple(row for key, row in now.items() if key not in was),
        tuple(row for key, row in was.items() if key not in now),
    )


def _by_key(faults: Iterable[FaultStatus]) -> dict[tuple[str, str], FaultStatus]:
    return {(row.manoeuvre, row.code): row for row in faults}


def _whole_words(row: PartResult) -> str:
    """Return 'all 6 takeoffs', 'both takeoffs' or 'the takeoff'."""
    if row.flown == 1:
        return f"the {row.noun}"
    many = count_noun(row.flown, row.noun)
    return f"both {many.removeprefix('2 ')}" if row.flown == 2 else f"all {many}"


def _join(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
