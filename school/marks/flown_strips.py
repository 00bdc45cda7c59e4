"""Draw the numbers of circuits along the way: strips of height, speed and bank over one line of distance."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from school.marks.ground import obstacle_mark
from school.marks.labels import Labels, grouped, marked_values, rows_of_labels
from school.marks.svg import n, path, svg_element, tint_path, tint_rect
from school.marks.symbols import diamond

WIDE, NARROW = 760.0, 340.0
LEFT, RIGHT, NUMBER_ROW, TITLE_HEIGHT, FOOT = 58.0, 22.0, 22.0, 28.0, 30.0
STRIP_HEIGHTS = {"height": 190.0, "speed": 110.0, "bank": 64.0}
TICKS = {"height": 6, "speed": 5, "bank": 3}
GATE_LABEL_GAP = 24.0
LONE_BAND = 9.0  # half the width of a band with one gate
MEASURED_DASH, EARLIER_DASH = "9 6", "3 4"
Place = Callable[[float], float]


@dataclass(frozen=True)
class StripGate:
    """A gate of a strip: its number, the feet flown since the lift-off, target and tolerances in the strip's unit."""

    number: int
    along: float
    target: float
    over: float
    under: float


@dataclass(frozen=True)
class StripLine:
    """The numbers of one circuit by the number of the gate; a gate without one was not measured.

    outside: gates where the number lies outside its tolerance; said: words for some of them.
    """

    values: Mapping[int, float]
    outside: frozenset[int] = frozenset()
    said: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Strip:
    """One quantity. lines: earlier circuits, thin, and at the end the one that is shown, thick where `thick`."""

    quantity: str
    title: str
    gates: Sequence[StripGate]
    lines: Sequence[StripLine]
    thick: bool = True


@dataclass(frozen=True)
class StripObstacle:
    """An obstacle under the way: where along it, its height in the unit of the heights, and words for what is over."""

    along: float
    height: float
    said: str


def flown_strips(
    strips: Sequence[Strip],
    gates: Sequence[tuple[int, float]],
    ticks: Sequence[tuple[float, str]],
    label: str,
    *,
    obstacles: Sequence[StripObstacle] = (),
    narrow: bool = False,
    halo: bool = True,
) -> str:
    """Draw strips over one another with a hair for each gate (number, feet along) through all of them.

    ticks: feet along and words under the last strip. `narrow` is drawn anew for a telephone, not scaled down.
    """
    wide = NARROW if narrow else WIDE
    along = along_strip([place for _, place in gates], wide)
    rows = rows_of_labels([along(place) for _, place in gates], GATE_LABEL_GAP)
    top = NUMBER_ROW * (max(rows, default=0) + 1) + 4
    high = top + sum(TITLE_HEIGHT + STRIP_HEIGHTS[strip.quantity] for strip in strips) + FOOT
    labels = Labels(wide, high, halo=halo)
    body, front, y = gate_hairs(gates, rows, along, top, high - FOOT, labels), "", top
    for strip in strips:
        # What is in front of the lines is added last, or the line of the next circuit would cross the words.
        drawn, words = _strip(strip, along, y + TITLE_HEIGHT, wide, labels, obstacles)
        body, front, y = body + drawn, front + words, y + TITLE_HEIGHT + STRIP_HEIGHTS[strip.quantity]
    for place, words in ticks:
        x = along(place)
        body += path(f"M{n(x)} {n(y)}V{n(y + 6)}", 2)
        front += labels.put(foot_spots(x, y + 22, wide), words, 14)
    return svg_element(wide, high, body + front, label, cls="g pattern flown")


def along_strip(places: Sequence[float], wide: float) -> Place:
    first, last = min(places, default=0.0), max(places, default=1.0)
    span = max(last - first, 1.0)
    margin = LEFT + 14
    return lambda along: margin + min(max((along - first) / span, 0.0), 1.0) * (wide - margin - RIGHT)


def foot_spots(x: float, y: float, wide: float) -> list[tuple[float, float, str]]:
    return [(x, y, "middle"), (min(x + 8, wide - 1), y, "end"), (x - 8, y, "start")]


def gate_hairs(
    gates: Sequence[tuple[int, float]], rows: Sequence[int], along: Place, top: float, foot: float, labels: Labels
) -> str:
    body = ""
    for (number, place), row in zip(gates, rows, strict=True):
        x, y = along(place), top - 8 - row * NUMBER_ROW
        body += path(f"M{n(x)} {n(top - 4)}V{n(foot)}", 1, stroke="var(--hair)")
        body += labels.put([(x, y, "middle")], str(number), 16, 800)
    return body


def _strip(
    strip: Strip, along: Place, top: float, wide: float, labels: Labels, obstacles: Sequence[StripObstacle]
) -> tuple[str, str]:
    """Return what is drawn of a strip whose values begin at `top`, and the words in front of it."""
    foot = top + STRIP_HEIGHTS[strip.quantity] - 8
    low, high = value_range(strip)
    up = value_scale(low, high, top, foot)
    edge = 2.5 if strip.quantity == "height" else 1
    stroke = "currentColor" if strip.quantity == "height" else "var(--hair)"
    body = tolerance_band(strip.gates, along, up) + path(
        f"M{n(LEFT)} {n(foot)}H{n(wide - RIGHT + 14)}", edge, stroke=stroke
    )
    front = labels.put([(LEFT, top - 10, "start")], strip.title, 15, 800)
    labels.block(0, top - TITLE_HEIGHT, wide, top - 5)
    for value in marked_values(low, high, TICKS[strip.quantity]):
        y = up(value)
        if foot - y > 8 or value == low:
            words = labels.put([(LEFT - 10, y + 5, "end")], grouped(value), 14)
            body += path(f"M{n(LEFT - 6)} {n(y)}H{n(LEFT)}", 1.5) if words else ""
            front += words
    for line in strip.lines[:-1] if strip.thick else strip.lines:
        body += _joined(line, strip.gates, along, up, 1.3, "var(--ink-2)", EARLIER_DASH)
        body += _values(line, strip, along, up, (low, high), 3.6 if strip.thick else 5.0)
        front += _said(line, strip.gates, along, up, labels, 13, near=True)
    if strip.thick and strip.lines:
        drawn, words = _thick(strip, along, up, (low, high), labels)
        body, front = body + drawn, front + words
    if strip.quantity == "height":
        drawn, words = strip_obstacles(obstacles, along, up, foot, labels)
        body, front = body + drawn, front + words
    return body, front


def value_range(strip: Strip) -> tuple[float, float]:
    """Return the lowest and the highest value of the scale: the tolerances, and what was measured near them."""
    lows = [gate.target - gate.under for gate in strip.gates]
    highs = [gate.target + gate.over for gate in strip.gates]
    tolerance = max([1.0, *(max(gate.over, gate.under) for gate in strip.gates)])
    values = [value for line in strip.lines for value in line.values.values()]
    low = max(min([*lows, *values], default=0.0), min(lows, default=0.0) - 2 * tolerance) - tolerance / 2
    high = min(max([*highs, *values], default=1.0), max(highs, default=1.0) + 2 * tolerance) + tolerance / 2
    return (0.0 if strip.quantity == "height" else low), max(high, low + 1)


def value_scale(low: float, high: float, top: float, foot: float) -> Place:
    return lambda value: foot - (min(max(value, low), high) - low) / (high - low) * (foot - top)


def tolerance_band(gates: Sequence[StripGate], along: Place, up: Place) -> str:
    """Draw the tolerance as a tint with its outline, and the targets as a dotted line."""
    if not gates:
        return ""
    over = [(along(gate.along), up(gate.target + gate.over)) for gate in gates]
    under = [(along(gate.along), up(gate.target - gate.under)) for gate in gates]
    aim = [(along(gate.along), up(gate.target)) for gate in gates]
    if len(gates) == 1:
        (x, upper), (_, lower), (_, middle) = over[0], under[0], aim[0]
        dotted = path(f"M{n(x - LONE_BAND)} {n(middle)}H{n(x + LONE_BAND)}", 2, dash="2 4")
        return tint_rect(x - LONE_BAND, upper, 2 * LONE_BAND, lower - upper) + dotted
    return tint_path(polyline([*over, *reversed(under)]) + "Z") + path(polyline(aim), 2, dash="2 6")


def polyline(points: Sequence[tuple[float, float]]) -> str:
    """Return the description of a line through points."""
    return "M" + "L".join(f"{n(x)} {n(y)}" for x, y in points)


def _joined(
    line: StripLine, gates: Sequence[StripGate], along: Place, up: Place, width: float, stroke: str, dash: str
) -> str:
    """Join the numbers of a circuit by a dashed line: between the gates nobody measured."""
    points = [(along(gate.along), up(line.values[gate.number])) for gate in gates if gate.number in line.values]
    return path(polyline(points), width, stroke=stroke, dash=dash) if len(points) > 1 else ""


def _thick(strip: Strip, along: Place, up: Place, limits: tuple[float, float], labels: Labels) -> tuple[str, str]:
    line = strip.lines[-1]
    body = _joined(line, strip.gates, along, up, 6.5, "var(--paper)", "")
    body += _joined(line, strip.gates, along, up, 3, "currentColor", MEASURED_DASH)
    for gate in strip.gates:
        x, value = along(gate.along), line.values.get(gate.number)
        if value is None:
            y = up(gate.target)
            body += path(f"M{n(x - 8)} {n(y)}H{n(x + 8)}", 7, stroke="var(--paper)")
            body += path(f"M{n(x - 7)} {n(y)}H{n(x + 7)}", 3, dash="3.6 1.6")
        else:
            labels.block(x - 9, up(value) - 9, x + 9, up(value) + 9)
    body += _values(line, strip, along, up, limits, 8)
    return body, _said(line, strip.gates, along, up, labels, 15)


def _said(
    line: StripLine,
    gates: Sequence[StripGate],
    along: Place,
    up: Place,
    labels: Labels,
    size: float,
    *,
    near: bool = False,
) -> str:
    """Draw the words beside the numbers of a circuit that have some; `near`: at the same height or not at all."""
    front = ""
    for gate in gates:
        if gate.number in line.said and gate.number in line.values:
            x, y = along(gate.along), up(line.values[gate.number])
            front += labels.put(spots_beside(x, y)[: 2 if near else None], line.said[gate.number], size, 800)
    return front


def spots_beside(x: float, y: float) -> list[tuple[float, float, str]]:
    spots = list[tuple[float, float, str]]()
    for away in (5, 24, -14, 43, -33, 62):
        spots += [(x - 13, y + away, "end"), (x + 13, y + away, "start")]
    return spots


def _values(line: StripLine, strip: Strip, along: Place, up: Place, limits: tuple[float, float], r: float) -> str:
    body = ""
    for gate in strip.gates:
        value = line.values.get(gate.number)
        if value is None:
            continue
        x, y = along(gate.along), up(value)
        # Beyond the scale an open arrowhead: it must not look like a value on it.
        side = 1 if value > limits[1] else -1 if value < limits[0] else 0
        body += off_scale(x, y, r, side) if side else diamond(x, y, r, gate.number not in line.outside)
    return body


def off_scale(x: float, y: float, r: float, side: int) -> str:
    """Draw an open arrowhead that points up (side 1) or down (side -1), with its tip at y."""
    d = f"M{n(x - r)} {n(y + side * r * 1.4)}L{n(x)} {n(y)}L{n(x + r)} {n(y + side * r * 1.4)}Z"
    return path(d, r * 0.34, fill="var(--paper)")


def strip_obstacles(
    obstacles: Sequence[StripObstacle], along: Place, up: Place, foot: float, labels: Labels
) -> tuple[str, str]:
    body, front = "", ""
    for row in obstacles:
        x, y = along(row.along), up(row.height)
        body += obstacle_mark(x, foot, y)
        spots = [(x - 14, foot - 5, "end"), (x + 14, foot - 5, "start"), (x - 14, foot - 24, "end")]
        front += labels.put(spots, row.said, 14, 600)
    return body, front


def strip_key(words: str) -> str:
    """Return a line of a key by itself: `thick`, `earlier`, `way`, `thin`, `dotted` or `target`."""
    drawn = {
        "way": path("M1 8H43", 3),
        "thin": path("M1 8H43", 1.3, stroke="var(--ink-2)"),
        "dotted": path("M1 8H43", 2, dash="2 6"),
        "thick": path("M1 8H43", 3, dash=MEASURED_DASH),
        "earlier": path("M1 8H43", 1.3, stroke="var(--ink-2)", dash=EARLIER_DASH),
        "target": tint_rect(1, 2, 42, 12) + path("M1 8H43", 2, dash="2 6"),
        "not_measured": path("M14 8H30", 3, dash="3.6 1.6"),
    }[words]
    return svg_element(44, 16, drawn)


__all__ = ["Strip", "StripGate", "StripLine", "StripObstacle", "flown_strips", "strip_key"]
