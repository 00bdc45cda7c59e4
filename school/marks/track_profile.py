"""Draw the heights of a circuit along the way that was flown, with their uncertainty, and the target at each gate."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from school.marks.flown_strips import polyline
from school.marks.labels import Labels, grouped, marked_values, rows_of_labels
from school.marks.svg import n, path, svg_element, tint_path

WIDE, NARROW, HIGH = 760.0, 340.0, 260.0
LEFT, RIGHT, TITLE, FOOT, NUMBER_ROW = 62.0, 16.0, 30.0, 34.0, 22.0
GATE_LABEL_GAP, MOST_HEIGHTS, MOST_PLACES = 24.0, 6, 5
HALF_BRACKET = 6.0
Point = tuple[float, float]
Projection = Callable[[float, float], Point]


@dataclass(frozen=True)
class ProfileGate:
    """A gate where the way passed it: its number, how far along, and the lowest and the highest that is asked for."""

    number: int
    along: float
    low: float
    high: float


def track_profile(
    way: Sequence[Point],
    uncertainty: float,
    gates: Sequence[ProfileGate],
    units: tuple[str, str],
    label: str,
    *,
    narrow: bool = False,
) -> str:
    """Draw the profile. way: distance and height in the units named; uncertainty: of the heights, 19 of 20."""
    wide = NARROW if narrow else WIDE
    rows = rows_of_labels([_across(row.along, way, wide) for row in gates], GATE_LABEL_GAP)
    top = TITLE + NUMBER_ROW * (max(rows, default=0) + 1)
    highest = max([height + uncertainty for _, height in way] + [row.high for row in gates])
    high = top + HIGH
    labels = Labels(wide, high + FOOT)

    def place(along: float, height: float) -> Point:
        return _across(along, way, wide), high - min(max(height, 0.0) / highest, 1.0) * HIGH

    over = [place(along, height + uncertainty) for along, height in way]
    under = [place(along, height - uncertainty) for along, height in way]
    line = polyline([place(along, height) for along, height in way])
    body = tint_path(polyline([*over, *reversed(under)]) + "Z")
    body += _gates(gates, rows, place, labels, (top, high))
    body += path(line, 6, stroke="var(--paper)") + path(line, 3)
    front = labels.put([(LEFT, 18, "start")], f"Height, {units[1]}", 15, 800)
    axes, words = _axes(way, highest, place, units, labels, (wide, high))
    return svg_element(wide, high + FOOT, body + axes + front + words, label, cls="g pattern flown")


def _across(along: float, way: Sequence[Point], wide: float) -> float:
    first, last = way[0][0], way[-1][0]
    share = (along - first) / max(last - first, 1.0)
    return LEFT + 8 + min(max(share, 0.0), 1.0) * (wide - LEFT - 8 - RIGHT)


def _gates(gates: Sequence[ProfileGate], rows: Sequence[int], place: Projection, labels: Labels, span: Point) -> str:
    """Draw a bracket over the heights that a gate asks for, and its number on top."""
    body = ""
    for gate, row in zip(gates, rows, strict=True):
        x, upper = place(gate.along, gate.high)
        lower = place(gate.along, gate.low)[1]
        body += path(f"M{n(x)} {n(span[0] - 4)}V{n(span[1])}", 1, stroke="var(--hair)")
        ends = "".join(f"M{n(x - HALF_BRACKET)} {n(y)}H{n(x + HALF_BRACKET)}" for y in (upper, lower))
        body += path(ends + f"M{n(x)} {n(upper)}V{n(lower)}", 2)
        body += labels.put([(x, span[0] - 8 - row * NUMBER_ROW, "middle")], str(gate.number), 16, 800)
    return body


def _axes(
    way: Sequence[Point], highest: float, place: Projection, units: tuple[str, str], labels: Labels, size: Point
) -> tuple[str, str]:
    """Return the ground with its ticks, and their words."""
    wide, high = size
    body, words = path(f"M{n(LEFT)} {n(high)}H{n(wide - RIGHT + 8)}", 2.5), ""
    for value in marked_values(0, highest, MOST_HEIGHTS):
        y = place(way[0][0], value)[1]
        body += path(f"M{n(LEFT - 6)} {n(y)}H{n(LEFT)}", 1.5)
        words += labels.put([(LEFT - 10, y + 5, "end")], grouped(value), 14)
    end = way[-1][0]
    for value in marked_values(0, end - way[0][0], MOST_PLACES):
        x = _across(end - value, way, wide)
        body += path(f"M{n(x)} {n(high)}V{n(high + 6)}", 2)
        said = f"{grouped(value)} {units[0]} to go" if value else "end"
        words += labels.put([(x, high + 22, "middle"), (wide - 1, high + 22, "end")], said, 14)
    return body, words
