"""Draw where the wheels met the ground, from the aiming point."""

from collections.abc import Sequence
from dataclasses import dataclass

from school.marks.flown_strips import polyline
from school.marks.labels import LETTER_GAP, Labels, grouped, marked_values, width_of
from school.marks.svg import n, path, svg_element, tint_rect
from school.marks.symbols import diamond

WIDE, NARROW, MARGIN = 760.0, 340.0, 20.0
HALF, NUMBER_ROW, FOOT = 14.0, 21.0, 34.0
MOST_ROWS = 5


@dataclass(frozen=True)
class TouchdownSpot:
    """One touchdown: the circuit's name, the distance past the aiming point (before it negative), inside, shown thick.

    newest: the circuit that the page is about.
    """

    name: str
    amount: float
    inside: bool
    newest: bool = False


def touchdown_strip(
    spots: Sequence[TouchdownSpot],
    limits: tuple[float, float],
    unit: str,
    label: str,
    *,
    narrow: bool = False,
    halo: bool = True,
) -> str:
    """Draw touchdowns along the runway, the landing to the right. limits: where the tolerance begins and ends.

    A spot more than the tolerance's length outside it is drawn as an arrowhead at the edge.
    """
    wide = NARROW if narrow else WIDE
    low, high, place = _scale(spots, limits, wide)
    rows = min(MOST_ROWS, max(1, _rows_needed(spots, place)))
    axis = rows * NUMBER_ROW + HALF + 12
    labels = Labels(wide, axis + HALF + FOOT, halo=halo)
    body = tint_rect(place(limits[0]), axis - HALF, place(limits[1]) - place(limits[0]), 2 * HALF)
    body += path(f"M4 {n(axis - HALF)}H{n(wide - 4)}M4 {n(axis + HALF)}H{n(wide - 4)}", 2)
    point = place(0)
    body += path(polyline([(point, axis - HALF - 5), (point, axis + HALF + 5)]), 3)
    front = labels.put([(point, axis + HALF + 22, "middle")], "aiming point", 14, 600)
    for value in marked_values(low, high, 3 if narrow else 5):
        if value:
            sign = "+" if value > 0 else ""
            body += path(f"M{n(place(value))} {n(axis + HALF)}V{n(axis + HALF + 6)}", 1.5)
            front += labels.put([(place(value), axis + HALF + 22, "middle")], f"{sign}{grouped(value)} {unit}", 14)
    for spot in sorted(spots, key=lambda row: row.newest):
        body += _spot(spot, place, axis, low, high)
    # The newest first, so that its number has the place over it.
    for spot in sorted(spots, key=lambda row: not row.newest):
        feet = [axis - HALF - 9 - row * NUMBER_ROW for row in range(rows)]
        x = place(spot.amount)
        front += labels.put([(x, y, "middle") for y in feet], spot.name, 15, 800 if spot.newest else 400)
    return svg_element(wide, axis + HALF + FOOT, body + front, label, cls="g pattern flown")


def _scale(spots: Sequence[TouchdownSpot], limits: tuple[float, float], wide: float) -> tuple[float, float, "_Place"]:
    length = max(limits[1] - limits[0], 1.0)
    values = [spot.amount for spot in spots]
    low = max(min([limits[0], 0, *values]), min(limits[0], 0) - length) - length / 4
    high = min(max([limits[1], 0, *values]), max(limits[1], 0) + length) + length / 4
    return low, high, _Place(low, high, wide)


@dataclass(frozen=True)
class _Place:
    low: float
    high: float
    wide: float

    def __call__(self, amount: float) -> float:
        share = (min(max(amount, self.low), self.high) - self.low) / (self.high - self.low)
        return MARGIN + share * (self.wide - 2 * MARGIN)


def _rows_needed(spots: Sequence[TouchdownSpot], place: _Place) -> int:
    ends = list[float]()
    for spot in sorted(spots, key=lambda row: row.amount):
        half = width_of(spot.name, 15, 800) / 2 + LETTER_GAP
        x = place(spot.amount)
        row = next((row for row, end in enumerate(ends) if x - half > end), len(ends))
        ends[row : row + 1] = [x + half]
    return len(ends)


def _spot(spot: TouchdownSpot, place: _Place, axis: float, low: float, high: float) -> str:
    x, r = place(spot.amount), 9 if spot.newest else 6
    side = 1 if spot.amount > high else -1 if spot.amount < low else 0
    if not side:
        return diamond(x, axis, r, spot.inside)
    d = f"M{n(x - side * r * 1.4)} {n(axis - r)}L{n(x)} {n(axis)}L{n(x - side * r * 1.4)} {n(axis + r)}Z"
    return path(d, r * 0.34, fill="var(--paper)")
