"""Find which circuit of a track is which circuit of a lesson: in order, either side may lack some.

Cheapest alignment by dynamic programming (Needleman and Wunsch 1970, from memory): endings that differ cost, and so
does the time between the end of a circuit and the last tap in it; leaving one out costs more than either alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass

LEFT_OUT = 0.9
ENDINGS_DIFFER, UNSURE, BOTH_LANDINGS = 1.2, 0.3, 0.8
LANDINGS = frozenset({"full_stop", "touch_and_go"})
# Tapped after it happened, as a rule; much earlier it was another circuit.
LATE_S, EARLY_S, MOST_FOR_TIME = 240.0, 60.0, 1.2


@dataclass(frozen=True)
class TappedEnd:
    """A circuit of the lesson: its number, how it ended, and when it was last tapped; None where that says nothing."""

    number: int
    ending: str
    at: float | None


@dataclass(frozen=True)
class MeasuredEnd:
    """A circuit of the track: how it ended ("unsure" included) and when."""

    ending: str
    at: float


def match_circuits(tapped: Sequence[TappedEnd], measured: Sequence[MeasuredEnd]) -> list[int | None]:
    """Return for each measured circuit the number of the tapped one, or None where it has none."""
    rows, columns = len(tapped), len(measured)
    costs = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(columns + 1):
            costs[i][j] = min(_ways_to(costs, i, j, tapped, measured), default=0.0)
    found: list[int | None] = [None] * columns
    i, j = rows, columns
    while i and j:
        if abs(costs[i][j] - costs[i - 1][j - 1] - _cost(tapped[i - 1], measured[j - 1])) < 1e-9:
            found[j - 1] = tapped[i - 1].number
            i, j = i - 1, j - 1
        elif abs(costs[i][j] - costs[i - 1][j] - LEFT_OUT) < 1e-9:
            i -= 1
        else:
            j -= 1
    return found


def _ways_to(
    costs: list[list[float]], i: int, j: int, tapped: Sequence[TappedEnd], measured: Sequence[MeasuredEnd]
) -> list[float]:
    ways = [costs[i - 1][j] + LEFT_OUT] if i else []
    ways += [costs[i][j - 1] + LEFT_OUT] if j else []
    return [*ways, costs[i - 1][j - 1] + _cost(tapped[i - 1], measured[j - 1])] if i and j else ways


def _cost(tapped: TappedEnd, measured: MeasuredEnd) -> float:
    cost = _cost_of_endings(tapped.ending, measured.ending)
    if tapped.at is not None:
        late = tapped.at - measured.at
        cost += min(MOST_FOR_TIME, late / LATE_S if late > 0 else -late / EARLY_S)
    return cost


def _cost_of_endings(tapped: str, measured: str) -> float:
    if tapped == measured:
        return 0.0
    # Control that was taken says nothing about how the circuit ended over the runway.
    if measured == "unsure" or tapped == "took_control":
        return UNSURE
    return BOTH_LANDINGS if {tapped, measured} <= LANDINGS else ENDINGS_DIFFER
