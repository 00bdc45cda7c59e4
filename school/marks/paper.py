"""Draw the figures of a printed sheet: in points, ink on paper, many squares joined into one path.

Joined because the printer of sheets takes as long for a path as for a thousand squares in it.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from school.marks.figures import PartGrade
from school.marks.svg import n, path, svg_element, text, tint_rect
from school.marks.symbols import HELP_DOTS, LEVEL_FILL

WIDTH = 499.0  # 176 mm in points
LABEL_WIDTH, PITCH_MOST, LESSON_GAP = 84.0, 12.0, 2.6
ROW, PLOT, TYPE = 11.4, 20.0, 8.0
HELP_BOX = 1.3
SIZE = re.compile(r'width="([\d.]+)" height="([\d.]+)"')


@dataclass(frozen=True)
class PaperSeries:
    """A number under the circuits: name, target in words, tolerance on both sides, deviations, None where not noted.

    tracked: the places of those that came from a flight track; each gets a T.
    """

    name: str
    target: str
    over: float
    under: float
    amounts: Sequence[float | None]
    tracked: Sequence[int] = ()


@dataclass(frozen=True)
class PaperPart:
    """A row of squares: name, how far in words, a grade for each circuit, None where it was not flown."""

    name: str
    words: str
    grades: Sequence[PartGrade | None]


def in_points(svg: str) -> str:
    """Return a drawing whose units are points on paper: without a unit they are pixels, three quarters of one."""
    return SIZE.sub(r'style="width:\1pt;height:\2pt"', svg, count=1)


def squares(cells: Iterable[tuple[float, float, PartGrade]], side: float) -> str:
    """Draw graded squares of one size at x, y: outlines, fillings, dashes, strikes and arrows, a path each."""
    outlines, filled, dashed, struck, arrows = "", "", "", "", ""
    edge = side * 0.1
    for x, y, grade in cells:
        if grade.level == "go_around":
            arrows += (
                f"M{n(x + side / 2)} {n(y + side)}V{n(y + side * 0.12)}"
                f"M{n(x + side * 0.14)} {n(y + side * 0.5)}L{n(x + side / 2)} {n(y + side * 0.1)}"
                f"L{n(x + side * 0.86)} {n(y + side * 0.5)}"
            )
            continue
        box = _box(x + edge / 2, y + edge / 2, side - edge, side - edge)
        if grade.level == "not_observed":
            dashed += box
        elif grade.level == "perform" and grade.help == "none":
            filled += _box(x, y, side, side)
        else:
            outlines += box
            filled += _filling(x, y, side, edge, grade.level)
        if grade.help == "took_control":
            struck += f"M{n(x - 1)} {n(y + side + 1)}L{n(x + side + 1)} {n(y - 1)}"
        for place in HELP_DOTS[grade.help]:
            filled += _box(x + side * place - HELP_BOX / 2, y + side + 0.8, HELP_BOX, HELP_BOX)
    drawn = path(outlines, edge, fill="var(--paper)") if outlines else ""
    drawn += path(dashed, edge, dash="1 .8") if dashed else ""
    drawn += f'<path d="{filled}" fill="currentColor"/>' if filled else ""
    drawn += (path(struck, 2, stroke="var(--paper)") + path(struck, 0.9)) if struck else ""
    return drawn + (path(arrows, side * 0.14) if arrows else "")


def _filling(x: float, y: float, side: float, edge: float, level: str) -> str:
    if level == "perform":  # with help: an edge of paper parts the block from its outline
        gap = 2.2 * edge
        return _box(x + gap, y + gap, side - 2 * gap, side - 2 * gap)
    high = (side - 2 * edge) * LEVEL_FILL[level] + edge / 2
    return _box(x + edge / 2, y + side - edge / 2 - high, side - edge, high)


def _box(x: float, y: float, wide: float, high: float) -> str:
    return f"M{n(x)} {n(y)}h{n(wide)}v{n(high)}h{n(-wide)}z"


def diamonds(spots: Iterable[tuple[float, float]], r: float, *, inside: bool) -> str:
    """Draw diamonds at x, y: solid inside the tolerance, open outside."""
    d = "".join(f"M{n(x)} {n(y - r)}l{n(r)} {n(r)}l{n(-r)} {n(r)}l{n(-r)} {n(-r)}z" for x, y in spots)
    if not d:
        return ""
    return f'<path d="{d}" fill="currentColor"/>' if inside else path(d, 0.7, fill="var(--paper)")


def tees(spots: Iterable[tuple[float, float]]) -> str:
    """Draw a small T at the right of each diamond at x, y: its number came from a flight track."""
    d = "".join(f"M{n(x + 3)} {n(y - 4)}h3m-1.5 0v3.6" for x, y in spots)
    return path(d, 0.6) if d else ""


def grade_row(grades: Sequence[PartGrade | None], pitch: float, label: str, side: float = 6.0) -> str:
    """Draw one line of a table of grades, a column a lesson."""
    cells = [(place * pitch + (pitch - side) / 2, 1.0, grade) for place, grade in enumerate(grades) if grade]
    return in_points(svg_element(pitch * max(len(grades), 1), side + 3.4, squares(cells, side), label, cls="line"))


def circuits_on_paper(
    lessons: Sequence[int], parts: Sequence[PaperPart], series: Sequence[PaperSeries], label: str
) -> str:
    """Draw every circuit as a column: its parts over one another, its lesson, its numbers. lessons: one a column."""
    xs, pitch = _columns(lessons)
    side = min(pitch - 1.1, 6.2)
    high = figure_height(len(parts), len(series))
    body, cells, y = "", list[tuple[float, float, PartGrade]](), 1.0
    for part in parts:
        body += text(0, y + 6.4, part.name, TYPE, 600) + text(80, y + 6.4, part.words, TYPE, 400, "end")
        cells += [(x, y, grade) for x, grade in zip(xs, part.grades, strict=True) if grade]
        y += ROW
    body += squares(cells, side) + _lesson_numbers(lessons, xs, side, y)
    y += 14
    for row in series:
        body += _plot(row, xs, side, y)
        y += PLOT + 5
    return svg_element(WIDTH, high, body, label, cls="pic")


def figure_height(parts: int, series: int) -> float:
    """Return how high the figure of circuits is, in points."""
    return parts * ROW + 14 + series * (PLOT + 5)


def _columns(lessons: Sequence[int]) -> tuple[list[float], float]:
    gaps = sum(one != other for one, other in pairwise(lessons))
    pitch = min((WIDTH - LABEL_WIDTH - gaps * LESSON_GAP) / max(len(lessons), 1), PITCH_MOST)
    xs, x = list[float](), LABEL_WIDTH
    for place, lesson in enumerate(lessons):
        if place and lesson != lessons[place - 1]:
            x += LESSON_GAP
        xs.append(x)
        x += pitch
    return xs, pitch


def _lesson_numbers(lessons: Sequence[int], xs: Sequence[float], side: float, y: float) -> str:
    body, lines, last = text(0, y + 9, "Lesson", TYPE, 600), "", 0.0
    firsts = [place for place, lesson in enumerate(lessons) if not place or lesson != lessons[place - 1]]
    for first, end in zip(firsts, [*firsts[1:], len(lessons)], strict=True):
        left, right = xs[first], xs[end - 1] + side
        lines += f"M{n(left)} {n(y)}H{n(right)}"
        middle, half = (left + right) / 2, len(str(lessons[first])) * 2.6
        if middle - half > last:  # where many lessons are narrow, not every one has room for its number
            body += text(middle, y + 9, str(lessons[first]), TYPE, 600, "middle")
            last = middle + half + 1
    return body + path(lines, 0.7)


def _plot(row: PaperSeries, xs: Sequence[float], side: float, y: float) -> str:
    """Draw deviations about the target; full scale is twice the larger tolerance, beyond it an arrowhead."""
    tolerance, middle = max(row.over, row.under, 0.001), y + PLOT / 2
    unit = (PLOT / 2 - 1.6) / 2 / tolerance
    body = text(0, y + 8, row.name, TYPE, 600) + text(0, y + 17.6, row.target, TYPE)
    left, right = xs[0] - 1, xs[-1] + side + 1
    body += tint_rect(left, middle - row.over * unit, right - left, (row.over + row.under) * unit)
    body += path(f"M{n(left)} {n(middle)}H{n(right)}", 0.5, dash="1 1.6")
    spots: dict[bool, list[tuple[float, float]]] = {True: [], False: []}
    beyond = ""
    tracked = []
    for place, (x, amount) in enumerate(zip(xs, row.amounts, strict=True)):
        if amount is None:
            continue
        if place in row.tracked:
            tracked.append((x + side / 2 - 4.5, y + PLOT))
        centre, way = x + side / 2, 1 if amount > 0 else -1
        if abs(amount) > 2 * tolerance:
            tip = middle - way * (PLOT / 2 - 0.5)
            beyond += f"M{n(centre - 2)} {n(tip + way * 3)}L{n(centre)} {n(tip)}L{n(centre + 2)} {n(tip + way * 3)}z"
        else:
            spots[-row.under <= amount <= row.over].append((centre, middle - amount * unit))
    body += diamonds(spots[True], 2.1, inside=True) + diamonds(spots[False], 2.1, inside=False) + tees(tracked)
    return body + (path(beyond, 0.7, fill="var(--paper)") if beyond else "")
