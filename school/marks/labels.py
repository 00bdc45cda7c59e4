"""Place words in a drawing so that none lies over another."""

from collections.abc import Iterable, Sequence

from school.marks.svg import n, text

# Of the type's size, rather wide than narrow: the server cannot measure type, and a word may not reach another.
LETTER_WIDTH, HEAVY_LETTER_WIDTH, ASCENT, DESCENT = 0.63, 0.65, 1.01, 0.33
LETTER_GAP = 3.0  # without it two numbers side by side would be read as one
Box = tuple[float, float, float, float]
Spot = tuple[float, float, str]  # x and y of the first letter's foot, and which end of the words lies there


class Labels:
    """The words of one drawing of a width and a height, on a ground of paper where lines pass behind them.

    halo: the ground is a rim round the letters; a printed sheet has a box instead, as its renderer draws a rim over
    them.
    """

    def __init__(self, width: float, height: float, *, halo: bool = True) -> None:
        self.frame: Box = (0.0, 0.0, width, height)
        self.halo = halo
        self.taken: list[Box] = []

    def block(self, left: float, top: float, right: float, bottom: float) -> None:
        """Keep an area free of words."""
        self.taken.append((left, top, right, bottom))

    def put(self, spots: Iterable[Spot], words: str, size: float = 15, weight: int = 400) -> str:
        """Draw words at the first spot that is free and inside the frame; nothing where none is, a table has them."""
        for x, y, anchor in spots:
            box = box_of(x, y, anchor, words, size, weight)
            if _inside(box, self.frame) and not any(_overlap(box, other) for other in self.taken):
                self.taken.append(box)
                drawn = text(x, y, words, size, weight, anchor)
                return self._rim(drawn) if self.halo else _ground(box) + drawn
        return ""

    def _rim(self, drawn: str) -> str:
        rim = 'stroke="var(--paper)" stroke-width="4" stroke-linejoin="round" paint-order="stroke"'
        return drawn.replace("<text ", f"<text {rim} ", 1)


def width_of(words: str, size: float = 15, weight: int = 400) -> float:
    """Return the width that words take at most."""
    return len(words) * size * (HEAVY_LETTER_WIDTH if weight > 600 else LETTER_WIDTH)


def box_of(x: float, y: float, anchor: str, words: str, size: float, weight: int) -> Box:
    """Return left, top, right and bottom of words whose foot lies at y."""
    wide = width_of(words, size, weight)
    left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * wide
    return left, y - size * ASCENT, left + wide, y + size * DESCENT


def rows_of_labels(places: Sequence[float], gap: float) -> list[int]:
    """Return for each place, ascending, the row in which its label stands at least `gap` from the one before it."""
    ends, rows = list[float](), list[int]()
    for place in places:
        row = next((row for row, end in enumerate(ends) if place - end >= gap), len(ends))
        ends[row : row + 1] = [place]
        rows.append(row)
    return rows


def marked_values(low: float, high: float, most: int) -> list[float]:
    """Return at most so many round values in a range, evenly spaced: 1, 2 or 5 times a power of ten apart."""
    step = next(size for size in _round_sizes() if (high - low) / size <= most)
    first = -(-low // step)
    return [step * place for place in range(int(first), int(high // step) + 1)][:most]


def _round_sizes() -> Iterable[float]:
    power = 1.0
    while True:
        yield from (power, 2 * power, 5 * power)
        power *= 10


def grouped(value: float) -> str:
    """Return a whole number with its thousands parted and a real minus."""
    return f"{round(value):,}".replace("-", "\u2212")


def _inside(box: Box, frame: Box) -> bool:
    return box[0] >= frame[0] and box[1] >= frame[1] and box[2] <= frame[2] and box[3] <= frame[3]


def _overlap(one: Box, other: Box) -> bool:
    apart = one[0] >= other[2] + LETTER_GAP or other[0] >= one[2] + LETTER_GAP
    return not apart and one[1] < other[3] and other[1] < one[3]


def _ground(box: Box) -> str:
    left, top, right, foot = box
    size = f'width="{n(right - left)}" height="{n((foot - top) * 0.8)}"'
    return f'<rect x="{n(left)}" y="{n(top + (foot - top) * 0.1)}" {size} fill="var(--paper)"/>'


def dot(x: float, y: float, r: float, stroke: str = "currentColor") -> str:
    return f'<circle cx="{n(x)}" cy="{n(y)}" r="{n(r)}" fill="{stroke}"/>'
