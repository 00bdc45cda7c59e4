"""Draw circuits in a row: the small strip of a table line, and the figure with gate plots under it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from textwrap import wrap

from school.marks.svg import n, path, signed_number, svg_element, text, tint_rect
from school.marks.symbols import diamond, grade_cell, streak_line


@dataclass(frozen=True)
class PartGrade:
    """One graded part: level ("not_observed" … "perform", or "go_around") and help."""

    level: str
    help: str = "none"


@dataclass(frozen=True)
class CircuitMarks:
    """One circuit: its number in the lesson, its graded parts by row name, its deviations by series key."""

    number: int
    parts: Mapping[str, PartGrade]
    deviations: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class PartSpan:
    """The attempts of one part that are looked at, the newest `judged` of them; `words`: how far it is."""

    judged: int
    met: bool
    words: str


@dataclass(frozen=True)
class GateSeries:
    """A gate plotted under the circuits; deviations, `over` and `under` in its unit."""

    key: str
    name: str
    target: str
    over: float
    under: float
    high_word: str
    low_word: str


def circuit_strip(circuits: Sequence[CircuitMarks], parts: Mapping[str, PartSpan], label: str, s: float = 12) -> str:
    """Draw the circuits, the newest at the right, one line for each part, in the order given.

    parts: what is looked at of each part. Only what is still missing something is underlined here: what is enough is
    seen from its seamless blocks.
    """
    pitch, high = s + max(4, s / 3), s * 1.5
    body = ""
    for place, circuit in enumerate(circuits):
        for row, name in enumerate(parts):
            if part := circuit.parts.get(name):
                body += grade_cell(1 + place * pitch, 2 + row * high, s, part.level, part.help)
    for row, (name, span) in enumerate(parts.items()):
        columns = _judged_columns([circuit.parts.get(name) for circuit in circuits], span.judged)
        if columns and not span.met:
            left, right, y = 1 + columns[0] * pitch, 1 + columns[-1] * pitch + s, 2 + row * high + s * 1.25
            body += path(f"M{n(left)} {n(y)}H{n(right)}", max(s * 0.17, 2), stroke="var(--accent)")
    return svg_element(max(len(circuits) * pitch, s) + 2, len(parts) * high + 3, body, label, cls="g strip")


def _judged_columns(parts: Sequence[PartGrade | None], length: int) -> list[int]:
    """Return the places of the last `length` attempts that count, oldest first.

    A go-around and an attempt not observed say nothing of a part, so they are passed over.
    """
    counting = [place for place, part in enumerate(parts) if part and _says_something(part)]
    return counting[-length:] if length > 0 else []


def _says_something(part: PartGrade) -> bool:
    # Help without a level counts against the student, so it is among what is looked at.
    return part.level != "go_around" and (part.level != "not_observed" or part.help != "none")


LABELS_WIDTH, COLUMN_PITCH, CELL_SIDE, LESSON_GAP, PART_HEIGHT, PLOT_HEIGHT = 140, 43, 28, 17, 45, 112
TOLERANCE_HEIGHT = (PLOT_HEIGHT / 2 - 20) / 2  # of the larger tolerance


def circuits_figure(
    lessons: Sequence[tuple[str, str, Sequence[CircuitMarks]]],
    series: Sequence[GateSeries],
    parts: Mapping[str, PartSpan],
    label: str,
) -> str:
    """Draw circuits by lesson, oldest at the left, with a plot for each gate under their columns.

    lessons: title, second line, circuits. parts: what is looked at of each part, in the order of the lines.
    Two drawings of one height: the columns, then their labels, which the page keeps in sight at the left
    while the columns scroll (class "labels"). The page that shows them gives the same as a table.
    """
    columns, spans, x = _columns(lessons)
    body, labels = _graded_rows(columns, parts), _part_labels(parts)
    y = 8 + len(parts) * PART_HEIGHT + 14
    labels += text(0, y, "Circuit")
    body += "".join(text(cx + CELL_SIDE / 2, y, str(circuit.number), 15, 600, "middle") for cx, circuit in columns)
    body += _lesson_brackets(spans, y + 12)
    y += 72
    for plotted in series:
        body += _plot(plotted, columns, spans, y)
        labels += _plot_labels(plotted, y)
        y += PLOT_HEIGHT + 8
    return svg_element(x + 8, y, body, label, cls="g figure") + svg_element(LABELS_WIDTH, y, labels, cls="g labels")


def _columns(
    lessons: Sequence[tuple[str, str, Sequence[CircuitMarks]]],
) -> tuple[list[tuple[float, CircuitMarks]], list[tuple[float, float, str, str]], float]:
    columns, spans, x = [], [], 0.0
    for title, second, circuits in lessons:
        # Three columns at least, so that a lesson of one circuit has room for its title under the bracket.
        wide = float(max(len(circuits), 3) * COLUMN_PITCH)
        spans.append((x, wide, title, second))
        columns += [
            (x + place * COLUMN_PITCH + (COLUMN_PITCH - CELL_SIDE) / 2, circuit)
            for place, circuit in enumerate(circuits)
        ]
        x += wide + LESSON_GAP
    return columns, spans, x - LESSON_GAP if lessons else x


def _graded_rows(columns: list[tuple[float, CircuitMarks]], parts: Mapping[str, PartSpan]) -> str:
    body = ""
    for row, (name, span) in enumerate(parts.items()):
        y = 8 + row * PART_HEIGHT
        grades = [circuit.parts.get(name) for _, circuit in columns]
        body += "".join(
            grade_cell(x, y, CELL_SIDE, grade.level, grade.help)
            for (x, _), grade in zip(columns, grades, strict=True)
            if grade
        )
        if standing := _judged_columns(grades, span.judged):
            first, last = columns[standing[0]][0], columns[standing[-1]][0] + CELL_SIDE
            earlier = span.judged > len(standing)  # began before the first circuit drawn
            body += streak_line(first - 8 * earlier, last, y + CELL_SIDE + 8, not span.met, 4, earlier)
    return body


def _part_labels(parts: Mapping[str, PartSpan]) -> str:
    body = ""
    for row, (name, span) in enumerate(parts.items()):
        y = 8 + row * PART_HEIGHT
        body += text(0, y + 13, name.capitalize(), 16, 800)
        body += text(0, y + 31, span.words, 15, 600, fill="currentColor" if span.met else "var(--accent)")
    return body


def _lesson_brackets(spans: list[tuple[float, float, str, str]], y: float) -> str:
    body = ""
    for x, wide, title, second in spans:
        body += path(f"M{n(x + 3)} {n(y + 6)}V{n(y)}H{n(x + wide - 3)}V{n(y + 6)}", 2)
        body += text(x + wide / 2, y + 24, title, 14, 800, "middle")
        body += text(x + wide / 2, y + 43, second, 14, 400, "middle")
    return body


def _plot(
    plotted: GateSeries, columns: list[tuple[float, CircuitMarks]], spans: list[tuple[float, float, str, str]], y: float
) -> str:
    """Draw one gate. Full scale is twice the larger tolerance; a side without one has its line on the target."""
    tolerance, middle, unit = max(plotted.over, plotted.under), y + PLOT_HEIGHT / 2, TOLERANCE_HEIGHT
    top, bottom = _band(plotted, middle)
    body = ""
    for x, wide, _, _ in spans:
        body += tint_rect(x, top, wide, bottom - top)
        body += path(f"M{n(x)} {n(top)}H{n(x + wide)}M{n(x)} {n(bottom)}H{n(x + wide)}", 1.5)
        body += path(f"M{n(x)} {n(middle)}H{n(x + wide)}", 1, dash="2 5")
    for x, circuit in columns:
        amount, centre = circuit.deviations.get(plotted.key), x + CELL_SIDE / 2
        body += path(f"M{n(centre)} {n(middle - 2 * unit)}V{n(middle + 2 * unit)}", 1, stroke="var(--hair)")
        # Not measured has a mark of its own: an empty column could be read as a number on the target.
        if amount is None:
            body += path(f"M{n(centre - 7)} {n(middle)}H{n(centre + 7)}", 3, dash="3.6 1.6")
        else:
            body += _plot_value(x + CELL_SIDE / 2, middle, unit, amount, amount / tolerance, plotted)
    return body


def _band(plotted: GateSeries, middle: float) -> tuple[float, float]:
    tolerance = max(plotted.over, plotted.under)
    return middle - plotted.over / tolerance * TOLERANCE_HEIGHT, middle + plotted.under / tolerance * TOLERANCE_HEIGHT


def _plot_labels(plotted: GateSeries, y: float) -> str:
    """Draw name, target and scale: a bracket round the tolerance, a bar at the target, words at the ends."""
    middle, right = y + PLOT_HEIGHT / 2, LABELS_WIDTH - 3
    high, low = _band(plotted, middle)
    lines = wrap(plotted.name, 13)
    body = "".join(text(0, middle + 18 * (place - len(lines)) + 12, line, 16, 800) for place, line in enumerate(lines))
    body += text(0, middle + 13, plotted.target, 14)
    body += text(right - 12, middle - 2 * TOLERANCE_HEIGHT - 5, plotted.high_word, 13, 400, "end")
    body += text(right - 12, middle + 2 * TOLERANCE_HEIGHT + 9, plotted.low_word, 13, 400, "end")
    body += path(f"M{n(right)} {n(high)}H{n(right - 6)}V{n(low)}H{n(right)}", 2)
    return body + path(f"M{n(right - 10)} {n(middle)}H{n(right + 3)}", 2.5)


def _plot_value(x: float, middle: float, unit: float, amount: float, share: float, plotted: GateSeries) -> str:
    inside = -plotted.under <= amount <= plotted.over
    side = 1 if share > 0 else -1
    # Beyond full scale an open arrow with its number: it must not look like a value on the scale.
    if abs(share) > 2:
        y = middle - side * (2 * unit - 2)
        d = f"M{n(x - 8)} {n(y + side * 8)}L{n(x)} {n(y - side * 5)}L{n(x + 8)} {n(y + side * 8)}Z"
        return path(d, 2.6, fill="var(--paper)") + text(
            x, y + (-9 if side > 0 else 19), signed_number(amount), 13, 600, "middle"
        )
    y = middle - share * unit
    drawn = diamond(x, y, 7.5, inside)
    return drawn if inside else drawn + text(x, y + (-11 if side > 0 else 21), signed_number(amount), 13, 600, "middle")
