"""Draw how a chance rises in steps over circuits flown, for several students side by side."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from school.marks.svg import n, path, svg_element, text
from school.marks.symbols import diamond

LEFT, TOP, FONT = 48.0, 14.0, 14.0
WIDE, NARROW = (520.0, 232.0), (358.0, 230.0)
RIGHT = {WIDE: 84.0, NARROW: 76.0}
LABEL_GAP = 15.0
Place = Callable[[float, float], tuple[float, float]]


class ChanceSteps(NamedTuple):
    """A line of steps: its name at the end, and the chance (0 to 1) from each number of circuits on."""

    name: str
    steps: Sequence[tuple[int, float]]

    def at(self, circuits: int) -> float:
        return max((chance for end, chance in self.steps if end <= circuits), default=0.0)


def chance_steps(
    series: Sequence[ChanceSteps], horizon: int, marked: int, ticks: Sequence[int], label: str, narrow: bool = False
) -> str:
    """Draw up to three lines, the strongest first and the weakest dashed, with a diamond each at `marked` circuits.

    Drawn anew for a telephone and never scaled down, so that its numbers stay as large as the text beside them.
    """
    size = NARROW if narrow else WIDE
    width, height = size
    bottom, right = height - 34, width - RIGHT[size]

    def place(circuits: float, chance: float) -> tuple[float, float]:
        return LEFT + circuits / horizon * (right - LEFT), bottom - chance * (bottom - TOP)

    body = ""
    for share, words in ((0.0, "0"), (0.25, "25"), (0.5, "50"), (0.75, "75"), (1.0, "100 %")):
        _, y = place(0, share)
        body += path(f"M{n(LEFT)} {n(y)}H{n(right)}", 1, stroke="var(--hair)")
        body += text(LEFT - 8, y + 5, words, FONT, 400, "end")
    for tick in (0, *ticks, horizon):
        x, _ = place(tick, 0)
        words = f"{tick} circuits" if tick == horizon and not narrow else str(tick)
        body += text(x, bottom + 22, words, FONT, 800 if tick == marked else 400, "middle")
        body += path(f"M{n(x)} {n(bottom)}v6", 1.5)
    x, _ = place(marked, 0)
    body += path(f"M{n(x)} {n(TOP)}V{n(bottom)}", 1, dash="2 4")
    label_y = TOP + 5 - LABEL_GAP
    for order, line in enumerate(series):
        body += path(_steps(line, horizon, place), 3.5 if order == 0 else 2.2, dash="7 4" if order == 2 else "")
        body += diamond(*place(marked, line.at(marked)), 5.5, order < 2)
        # Names of lines that end close together go below each other.
        label_y = max(place(0, line.at(horizon))[1] + 5, label_y + LABEL_GAP)
        body += text(right + 8, label_y, line.name, FONT, 800)
    return svg_element(width, height, body, label)


def _steps(line: ChanceSteps, horizon: int, place: Place) -> str:
    x, y = place(0, 0)
    d = f"M{n(x)} {n(y)}"
    for circuits, chance in line.steps:
        if circuits <= horizon:
            x, y = place(circuits, chance)
            d += f"H{n(x)}V{n(y)}"
    return d + f"H{n(place(horizon, 0)[0])}"
