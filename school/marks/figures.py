"""Circuits in a row: the small strip of a table line, and the figure with gate plots under it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from school.marks.signs import cell, diamond
from school.marks.svg import frame, n, path, signed, text

ROWS = ("takeoff", "approach", "landing")


@dataclass(frozen=True)
class Cell:
    """One graded part: level ("not_observed" … "perform", or "go_around") and help."""

    level: str
    help: str = "none"


@dataclass(frozen=True)
class CircuitMarks:
    """One circuit: its number in the lesson, its graded parts by row name, its deviations by series key."""

    number: int
    parts: Mapping[str, Cell]
    deviations: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Series:
    """A gate plotted under the circuits; deviations, `over` and `under` in its unit."""

    key: str
    name: str
    target: str
    over: float
    under: float
    high_word: str
    low_word: str


def strip(circuits: Sequence[CircuitMarks], rows: Mapping[str, int], needed: int, label: str, s: float = 12) -> str:
    """Newest at the right; takeoff over approach over landing; `rows`: length of the row under way."""
    pitch, high = s + max(4, s / 3), s * 1.5
    body = ""
    for place, circuit in enumerate(circuits):
        for row, name in enumerate(ROWS):
            if part := circuit.parts.get(name):
                body += cell(1 + place * pitch, 2 + row * high, s, part.level, part.help)
    right = 1 + (len(circuits) - 1) * pitch + s
    for row, name in enumerate(ROWS):
        length = min(rows.get(name, 0), len(circuits))
        if length > 0 and rows[name] < needed:
            y = 2 + row * high + s * 1.25
            body += path(
                f"M{n(right - (length - 1) * pitch - s)} {n(y)}H{n(right)}", max(s * 0.17, 2), stroke="var(--accent)"
            )
    return frame(max(len(circuits) * pitch, s) + 2, 3 * high + 3, body, label, cls="g strip")


LEFT, PITCH, SIDE, GAP, ROW, PLOT = 172, 43, 28, 17, 45, 112


def run_figure(
    lessons: Sequence[tuple[str, str, Sequence[CircuitMarks]]],
    series: Sequence[Series],
    rows: Mapping[str, int],
    needed: int,
    label: str,
) -> str:
    """Circuits by lesson, oldest at the left, with a plot for each gate under their columns.

    lessons: title, second line, circuits. rows: length of the row under way of each part.
    """
    columns, spans, x = _columns(lessons)
    wide = x + 8
    body = _graded_rows(columns, rows, needed)
    y = 8 + 3 * ROW + 14
    body += text(0, y, "Circuit") + "".join(
        text(cx + SIDE / 2, y, str(circuit.number), 15, 600, "middle") for cx, circuit in columns
    )
    body += _lesson_brackets(spans, y + 12)
    y += 72
    for plotted in series:
        body += _plot(plotted, columns, spans, y)
        y += PLOT + 8
    return frame(wide, y, body, label, cls="g figure")


def _columns(
    lessons: Sequence[tuple[str, str, Sequence[CircuitMarks]]],
) -> tuple[list[tuple[float, CircuitMarks]], list[tuple[float, float, str, str]], float]:
    columns, spans, x = [], [], float(LEFT)
    for title, second, circuits in lessons:
        wide = float(max(len(circuits), 3) * PITCH)
        spans.append((x, wide, title, second))
        columns += [(x + place * PITCH + (PITCH - SIDE) / 2, circuit) for place, circuit in enumerate(circuits)]
        x += wide + GAP
    return columns, spans, x - GAP if lessons else x


def _graded_rows(columns: list[tuple[float, CircuitMarks]], rows: Mapping[str, int], needed: int) -> str:
    body = ""
    for row, name in enumerate(ROWS):
        y, length = 8 + row * ROW, rows.get(name, 0)
        colour = "var(--accent)" if length < needed else "currentColor"
        body += text(0, y + 13, name.capitalize(), 16, 800)
        if length:
            body += text(0, y + 31, f"{length} in a row", 15, 600, fill=colour)
        graded = [(x, circuit.parts[name]) for x, circuit in columns if name in circuit.parts]
        body += "".join(cell(x, y, SIDE, part.level, part.help) for x, part in graded)
        standing = [x for x, part in graded if part.level not in ("go_around", "not_observed")]
        if length and standing:
            first, last, under = standing[-min(length, len(standing))], standing[-1] + SIDE, y + SIDE + 6
            d = f"M{n(first + 1)} {n(under - 3)}V{n(under + 2)}H{n(last - 1)}V{n(under - 3)}"
            body += path(d, 4, stroke=colour)
    return body


def _lesson_brackets(spans: list[tuple[float, float, str, str]], y: float) -> str:
    body = ""
    for x, wide, title, second in spans:
        body += path(f"M{n(x + 3)} {n(y + 6)}V{n(y)}H{n(x + wide - 3)}V{n(y + 6)}", 2)
        body += text(x + wide / 2, y + 24, title, 14, 800, "middle")
        body += text(x + wide / 2, y + 43, second, 14, 400, "middle")
    return body


def _plot(
    plotted: Series, columns: list[tuple[float, CircuitMarks]], spans: list[tuple[float, float, str, str]], y: float
) -> str:
    tolerance = max(plotted.over, plotted.under)
    middle = y + PLOT / 2
    unit = (PLOT / 2 - 20) / 2
    top, bottom = middle - plotted.over / tolerance * unit, middle + plotted.under / tolerance * unit
    body = text(0, middle - 8, plotted.name, 16, 800) + text(0, middle + 12, plotted.target, 14)
    body += text(LEFT - 8, middle - 2 * unit + 5, plotted.high_word, 13, 400, "end")
    body += text(LEFT - 8, middle + 2 * unit + 5, plotted.low_word, 13, 400, "end")
    for x, wide, _, _ in spans:
        body += f'<rect x="{n(x)}" y="{n(top)}" width="{n(wide)}" height="{n(bottom - top)}" fill="var(--land)"/>'
        body += path(f"M{n(x)} {n(top)}H{n(x + wide)}M{n(x)} {n(bottom)}H{n(x + wide)}", 1.5)
        body += path(f"M{n(x)} {n(middle)}H{n(x + wide)}", 1, dash="2 5")
    for x, circuit in columns:
        amount = circuit.deviations.get(plotted.key)
        if amount is not None:
            body += _value(x + SIDE / 2, middle, unit, amount, amount / tolerance, plotted)
    return body


def _value(x: float, middle: float, unit: float, amount: float, share: float, plotted: Series) -> str:
    inside = -plotted.under <= amount <= plotted.over
    side = 1 if share > 0 else -1
    if abs(share) > 2:
        y = middle - side * (2 * unit - 2)
        d = f"M{n(x - 8)} {n(y + side * 8)}L{n(x)} {n(y - side * 5)}L{n(x + 8)} {n(y + side * 8)}Z"
        return path(d, 2.6, fill="var(--paper)") + text(
            x, y + (-9 if side > 0 else 19), signed(amount), 13, 600, "middle"
        )
    y = middle - share * unit
    drawn = diamond(x, y, 7.5, inside)
    return drawn if inside else drawn + text(x, y + (-11 if side > 0 else 21), signed(amount), 13, 600, "middle")
