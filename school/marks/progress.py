"""Draw progress over time: each circuit a column, its parts, its numbers and its faults over one another."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from school.marks.figures import GateSeries, PartGrade
from school.marks.flown_strips import off_scale
from school.marks.labels import Labels, dot
from school.marks.svg import n, path, svg_element, tint_rect
from school.marks.symbols import LEVEL_FILL, diamond, rect

WIDE, NARROW, MARGIN = 760.0, 340.0, 8.0
TITLE, BAR, HELP_ROOM, PLOT, FAULT, GAP, HEAD = 20.0, 26.0, 14.0, 52.0, 12.0, 10.0, 24.0
LEAST_COLUMNS = 12  # with fewer, a column would be as wide as a word
Across = Callable[[float], float]


@dataclass(frozen=True)
class FaultMarks:
    """A fault: its name, the columns it was seen in, and the spans in which it was open, None for still open."""

    name: str
    seen: Sequence[int]
    spans: Sequence[tuple[int, int | None]]


@dataclass(frozen=True)
class ProgressRows:
    """What is drawn over the columns. lessons: the number of the lesson of each column, oldest first.

    parts: name, words and grades; series: a gate and its deviations; None where nothing was flown or noted.
    """

    lessons: Sequence[int]
    parts: Sequence[tuple[str, str, Sequence[PartGrade | None]]]
    series: Sequence[tuple[GateSeries, Sequence[float | None]]]
    faults: Sequence[FaultMarks]


def progress_figure(rows: ProgressRows, label: str, *, narrow: bool = False, halo: bool = True) -> str:
    """Draw the circuits from left to right. A bar is as high as the level as which the part counts."""
    wide = NARROW if narrow else WIDE
    high = HEAD + _height(rows) + 4
    pitch = (wide - 2 * MARGIN) / max(len(rows.lessons), LEAST_COLUMNS)
    labels = Labels(wide, high, halo=halo)

    def across(column: float) -> float:
        return MARGIN + column * pitch

    body, front = _lessons(rows.lessons, across, high, labels)
    y = HEAD
    for name, words, grades in rows.parts:
        front += _titles(name, words, y, wide, labels)
        body += "".join(_bar(across(place), y + TITLE, pitch, grade) for place, grade in enumerate(grades))
        body += path(f"M{n(MARGIN)} {n(y + TITLE + BAR)}H{n(wide - MARGIN)}", 1, stroke="var(--hair)")
        y += TITLE + BAR + HELP_ROOM + GAP
    for series, amounts in rows.series:
        front += _titles(series.name, series.target, y, wide, labels)
        body += _plot(series, amounts, across, y + TITLE, pitch)
        y += TITLE + PLOT + GAP
    for fault in rows.faults:
        is_open = any(end is None for _, end in fault.spans)
        front += _titles(fault.name, "open" if is_open else "cleared", y, wide, labels)
        body += _fault(fault, across, y + TITLE + FAULT / 2, len(rows.lessons))
        y += TITLE + FAULT + GAP
    return svg_element(wide, high, body + front, label, cls="g pattern progress")


def _height(rows: ProgressRows) -> float:
    parts = len(rows.parts) * (TITLE + BAR + HELP_ROOM + GAP)
    return parts + len(rows.series) * (TITLE + PLOT + GAP) + len(rows.faults) * (TITLE + FAULT + GAP)


def _titles(name: str, words: str, y: float, wide: float, labels: Labels) -> str:
    drawn = labels.put([(MARGIN, y + 14, "start")], name, 15, 800)
    return drawn + labels.put([(wide - MARGIN, y + 14, "end")], words, 14)


def _lessons(lessons: Sequence[int], across: Across, high: float, labels: Labels) -> tuple[str, str]:
    """Draw a hair where each lesson begins, and its number where there is room."""
    body, front = "", labels.put([(MARGIN, 15, "start")], "Lesson", 14)
    firsts = [place for place, lesson in enumerate(lessons) if not place or lesson != lessons[place - 1]]
    for first in firsts:
        x = across(first)
        body += path(f"M{n(x)} {n(HEAD - 4)}V{n(high - 2)}", 1, stroke="var(--hair)")
    # The newest first: where not all have room, its number is the one to know.
    for first, end in reversed(list(zip(firsts, [*firsts[1:], len(lessons)], strict=True))):
        x = across((first + end) / 2)
        front += labels.put([(x, 15, "middle"), (across(end), 15, "end")], str(lessons[first]), 14, 600)
    return body, front


def _bar(x: float, top: float, pitch: float, grade: PartGrade | None) -> str:
    if grade is None:
        return ""
    side, foot = min(pitch * 0.72, 14.0), top + BAR
    left, centre = x + (pitch - side) / 2, x + pitch / 2
    if grade.level == "go_around":
        return path(f"M{n(centre)} {n(foot - 2)}V{n(foot - 12)}M{n(left)} {n(foot - 8)}L{n(centre)} {n(foot - 13)}"
                    f"L{n(left + side)} {n(foot - 8)}", 1.5)  # fmt: skip
    if grade.level == "not_observed":
        body = rect(left, foot - 5, side, 5, "none", 1, "2 2")
    else:
        high = BAR * LEVEL_FILL[grade.level]
        full = grade.level == "perform" and grade.help == "none"
        body = (
            rect(left, foot - high, side, high, "currentColor")
            if full
            else rect(left + 0.75, foot - high + 0.75, max(side - 1.5, 0.5), high - 1.5, "var(--paper)", 1.5)
        )
    return body + _help(grade.help, left, centre, side, foot)


def _help(help: str, left: float, centre: float, side: float, foot: float) -> str:
    if help == "took_control":
        return path(f"M{n(left - 1)} {n(foot + 1)}L{n(left + side + 1)} {n(foot - BAR + 2)}", 2)
    dots = {"prompted": 1, "assisted": 2}.get(help, 0)
    return "".join(dot(centre, foot + 5 + 5 * place, min(side * 0.3, 2)) for place in range(dots))


def _plot(series: GateSeries, amounts: Sequence[float | None], across: Across, top: float, pitch: float) -> str:
    """Draw deviations about the target; full scale is twice the larger tolerance."""
    tolerance, middle = max(series.over, series.under), top + PLOT / 2
    unit = (PLOT / 2 - 6) / 2 / tolerance
    left, right, r = across(0), across(len(amounts)), min(pitch * 0.45, 5.0)
    body = tint_rect(left, middle - series.over * unit, right - left, (series.over + series.under) * unit)
    body += path(f"M{n(left)} {n(middle)}H{n(right)}", 1.5, dash="2 5")
    for place, amount in enumerate(amounts):
        if amount is None:
            continue
        x, share = across(place + 0.5), min(max(amount / tolerance, -2.0), 2.0)
        y = middle - share * tolerance * unit
        beyond = abs(amount) > 2 * tolerance
        side = 1 if amount > 0 else -1
        body += off_scale(x, y, r, side) if beyond else diamond(x, y, r, -series.under <= amount <= series.over)
    return body


def _fault(fault: FaultMarks, across: Across, y: float, columns: int) -> str:
    """Draw when it was open: in the accent while it still is, with a bar at the end where it was cleared."""
    body = ""
    for begin, end in fault.spans:
        stroke = "var(--accent)" if end is None else "currentColor"
        left, right = across(begin + 0.5), across(columns if end is None else end + 0.5)
        body += path(f"M{n(left)} {n(y)}H{n(right)}", 3 if end is None else 2, stroke=stroke)
        if end is not None:
            body += path(f"M{n(right)} {n(y - 5)}V{n(y + 5)}", 2)
    return body + "".join(dot(across(place + 0.5), y, 3.5) for place in fault.seen)


@dataclass(frozen=True)
class MonthHours:
    """A month in two words at most, minutes flown with an instructor and alone, and both together in words."""

    month: str
    dual: int
    solo: int
    said: str


def hours_by_month(months: Sequence[MonthHours], label: str, *, narrow: bool = False, halo: bool = True) -> str:
    """Draw a bar for each month: solid with an instructor, open alone, the hours over it."""
    wide, top, foot = NARROW if narrow else WIDE, 24.0, 110.0
    pitch = (wide - 2 * MARGIN) / max(len(months), 6)
    most = max([60, *(row.dual + row.solo for row in months)])
    labels = Labels(wide, foot + 26, halo=halo)
    body = path(f"M{n(MARGIN)} {n(foot)}H{n(wide - MARGIN)}", 2)
    front = ""
    for place, row in enumerate(months):
        centre, side = MARGIN + (place + 0.5) * pitch, min(pitch * 0.6, 34)
        dual, solo = (minutes / most * (foot - top) for minutes in (row.dual, row.solo))
        if dual:
            body += rect(centre - side / 2, foot - dual, side, dual, "currentColor")
        if solo:
            body += rect(centre - side / 2 + 1, foot - dual - solo + 1, side - 2, max(solo - 1, 1), "var(--paper)", 2)
        if row.dual + row.solo:
            front += labels.put(
                [(centre, foot - dual - solo - 5, "middle")], f"{(row.dual + row.solo) / 60:.1f}", 14, 600
            )
        front += labels.put([(centre, foot + 18, "middle")], row.month, 14)
    return svg_element(wide, foot + 26, body + front, label, cls="g pattern progress")
