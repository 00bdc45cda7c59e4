"""Draw what a flight track tells along the way: strips of height, speed and bank over one line of distance.

Unlike the strips of noted numbers (flown_strips.py) the lines are solid: between the gates it was measured too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from school.marks.flown_strips import (
    LEFT,
    NARROW,
    RIGHT,
    TITLE_HEIGHT,
    WIDE,
    Place,
    StripGate,
    StripObstacle,
    along_strip,
    foot_spots,
    gate_hairs,
    polyline,
    spots_beside,
    strip_obstacles,
    tolerance_band,
    value_scale,
)
from school.marks.labels import Labels, grouped, marked_values, rows_of_labels
from school.marks.svg import n, path
from school.marks.svg import svg_element as element
from school.marks.symbols import diamond, half_diamond

STRIP_HEIGHTS = {"height": 200.0, "speed": 130.0, "bank": 90.0}
TICKS = {"height": 6, "speed": 5, "bank": 4}
NUMBER_ROW, FOOT, GATE_LABEL_GAP = 22.0, 30.0, 24.0
CAP = 5.0  # half the bar at the end of an uncertainty
BROKEN, DOTTED = "7 5", "2 6"
# How far beyond the tolerances a value may lie, in tolerances, and still make the scale longer.
FARTHEST = 4.0
LEAST_BANK, MOST_BANK = -20.0, 60.0
Limits = tuple[float, float]
Line = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class TrackReading:
    """What was read at a gate: its number, feet along, value, uncertainty; place: "inside", "outside", "unsure".

    said: words for one outside, as '71 ft low'.
    """

    number: int
    along: float
    value: float
    uncertainty: float
    place: str
    said: str = ""


@dataclass(frozen=True)
class TrackStrip:
    """One quantity. shown: the line of the circuit, thick; broken, dotted: other lines of it; earlier: thin ones."""

    quantity: str
    title: str
    gates: Sequence[StripGate]
    readings: Sequence[TrackReading]
    shown: Line = ()
    broken: Line = ()
    dotted: Line = ()
    earlier: Sequence[Line] = ()
    note: str = ""


def track_strips(
    strips: Sequence[TrackStrip],
    gates: Sequence[tuple[int, float]],
    span: Limits,
    ticks: Sequence[tuple[float, str]],
    label: str,
    *,
    obstacles: Sequence[StripObstacle] = (),
    narrow: bool = False,
    halo: bool = True,
) -> str:
    """Draw strips over one another with a hair for each gate (number, feet along) through all of them.

    span: the feet along at both ends; ticks: feet along and words under the last strip.
    """
    wide = NARROW if narrow else WIDE
    along = along_strip(span, wide)
    rows = rows_of_labels([along(place) for _, place in gates], GATE_LABEL_GAP)
    top = NUMBER_ROW * (max(rows, default=0) + 1) + 4
    # On a telephone the words beside a title have a line of their own.
    titles = [TITLE_HEIGHT + (20.0 if narrow and strip.note else 0.0) for strip in strips]
    high = top + sum(titles) + sum(STRIP_HEIGHTS[strip.quantity] for strip in strips) + FOOT
    labels = Labels(wide, high, halo=halo)
    body, front, y = gate_hairs(gates, rows, along, top, high - FOOT, labels), "", top
    for strip, title in zip(strips, titles, strict=True):
        limits = value_limits(strip, span)
        drawn, words = _strip(_cut(strip, span, limits), limits, along, (y, y + title), labels, obstacles)
        body, front, y = body + drawn, front + words, y + title + STRIP_HEIGHTS[strip.quantity]
    for place, words in ticks:
        x = along(place)
        body += path(f"M{n(x)} {n(y)}V{n(y + 6)}", 2)
        front += labels.put(foot_spots(x, y + 22, wide), words, 14)
    return element(wide, high, body + front, label, cls="g pattern flown")


def _cut(strip: TrackStrip, span: Limits, limits: Limits) -> TrackStrip:
    """Leave out of the lines what lies beyond the ends, or far beyond the scale."""

    def within(line: Line) -> Line:
        return [(x, y) for x, y in line if span[0] <= x <= span[1] and limits[0] <= y <= limits[1]]

    return replace(
        strip,
        shown=within(strip.shown),
        broken=within(strip.broken),
        dotted=within(strip.dotted),
        earlier=[within(line) for line in strip.earlier],
    )


def value_limits(strip: TrackStrip, span: Limits) -> Limits:
    """Return the lowest and highest value of a strip: tolerances, readings, and the lines as far as they are near."""
    lows = [gate.target - gate.under for gate in strip.gates] + [row.value - row.uncertainty for row in strip.readings]
    highs = [gate.target + gate.over for gate in strip.gates] + [row.value + row.uncertainty for row in strip.readings]
    lines = (strip.shown, strip.broken, strip.dotted, *strip.earlier)
    values = [y for line in lines for x, y in line if span[0] <= x <= span[1]]
    if strip.quantity == "height":
        return 0.0, max([100.0, *highs, *values])
    if strip.quantity == "bank":
        low = min([0.0, *lows, *(row for row in values if row > LEAST_BANK)])
        return low, max([30.0, *highs, *(row for row in values if row < MOST_BANK)])
    tolerance = max([5.0, *(max(gate.over, gate.under) for gate in strip.gates)])
    low, high = min(lows, default=0.0), max(highs, default=1.0)
    near = [row for row in values if low - FARTHEST * tolerance <= row <= high + FARTHEST * tolerance]
    return min([low, *near]), max([high, *near])


def _strip(
    strip: TrackStrip,
    limits: Limits,
    along: Place,
    tops: Limits,
    labels: Labels,
    obstacles: Sequence[StripObstacle],
) -> tuple[str, str]:
    """Return what is drawn of a strip between its title and its foot, and the words in front of it."""
    title, top = tops
    foot = top + STRIP_HEIGHTS[strip.quantity] - 8
    (low, high), wide = limits, labels.frame[2]
    up = value_scale(low, high, top, foot)
    body = tolerance_band(strip.gates, along, up) + _axis(strip, foot, wide)
    front = _title(strip, title, top, wide, labels)
    for value in marked_values(low, high, TICKS[strip.quantity]):
        y = up(value)
        words = labels.put(
            [(LEFT - 10, y + 5, "end")], f"{grouped(value)}{'°' if strip.quantity == 'bank' else ''}", 14
        )
        body += path(f"M{n(LEFT - 6)} {n(y)}H{n(LEFT)}", 1.5) if words else ""
        front += words
    for line in strip.earlier:
        body += _drawn(line, along, up, 1.3, stroke="var(--ink-2)")
    body += _drawn(strip.dotted, along, up, 2, dash=DOTTED) + _drawn(strip.broken, along, up, 2, dash=BROKEN)
    body += _drawn(strip.shown, along, up, 6.5, stroke="var(--paper)") + _drawn(strip.shown, along, up, 3)
    if strip.quantity == "height":
        stops, words = strip_obstacles(obstacles, along, up, foot, labels)
        body, front = body + stops, front + words
    for row in strip.readings:
        body += _reading(row, along(row.along), up)
        labels.block(along(row.along) - 9, up(row.value) - 9, along(row.along) + 9, up(row.value) + 9)
    for row in strip.readings:
        front += labels.put(spots_beside(along(row.along), up(row.value)), row.said, 15, 800) if row.said else ""
    return body, front


def _axis(strip: TrackStrip, foot: float, wide: float) -> str:
    ground = strip.quantity == "height"
    return path(
        f"M{n(LEFT)} {n(foot)}H{n(wide - RIGHT + 14)}",
        2.5 if ground else 1,
        stroke="currentColor" if ground else "var(--hair)",
    )


def _title(strip: TrackStrip, y: float, top: float, wide: float, labels: Labels) -> str:
    """Draw the title, and what the kinds of line mean: to its right, or in a line of its own."""
    drawn = labels.put([(LEFT, y + TITLE_HEIGHT - 10, "start")], strip.title, 15, 800)
    if strip.note:
        spots = [(wide - 2, y + TITLE_HEIGHT - 10, "end"), (LEFT, top - 10, "start"), (wide - 2, top - 10, "end")]
        drawn += labels.put(spots, strip.note, 14)
    labels.block(0, y, wide, top - 5)
    return drawn


def _drawn(line: Line, along: Place, up: Place, width: float, *, stroke: str = "currentColor", dash: str = "") -> str:
    if len(line) < 2:
        return ""
    return path(polyline([(along(x), up(y)) for x, y in line]), width, stroke=stroke, dash=dash)


def _reading(row: TrackReading, x: float, up: Place) -> str:
    """Draw the uncertainty as a bar, and the value over it: half solid where it cannot tell."""
    upper, lower = up(row.value + row.uncertainty), up(row.value - row.uncertainty)
    ends = "".join(f"M{n(x - CAP)} {n(y)}H{n(x + CAP)}" for y in (upper, lower))
    bar = path(f"{ends}M{n(x)} {n(upper)}V{n(lower)}", 1.5)
    y = up(row.value)
    return bar + (half_diamond(x, y, 8) if row.place == "unsure" else diamond(x, y, 8, row.place == "inside"))


__all__ = ["TrackReading", "TrackStrip", "track_strips", "value_limits"]
