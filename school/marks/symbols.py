"""Draw single marks: graded squares, required triangles, signed circles and the cut page."""

from collections.abc import Container
from functools import lru_cache

from school.marks.svg import n, path, strike_path, svg_element

# The caches below are keyed by all arguments: a page repeats few marks many times.
TRIANGLE_STATES = ("met", "open", "lapsed", "not_known", "set_aside")
STAMP_STATES = ("signed", "waiting", "not_asked", "refused", "withdrawn")
STORAGE_PLACES = ("school", "here")
LEVEL_FILL = {"describe": 0.2, "explain": 0.4, "practice": 0.6, "perform": 1.0}
HELP_DOTS = {"none": (), "prompted": (0.5,), "assisted": (0.3, 0.7), "took_control": ()}


def require_known(word: str, words: Container[str]) -> str:
    """Return the word. Raises ValueError for an unknown one: a wrong mark would state something false."""
    if word not in words:
        raise ValueError(f"no mark is drawn for {word!r}")
    return word


def rect(x: float, y: float, w: float, h: float, fill: str, stroke: float = 0, dash: str = "") -> str:
    line = f' stroke="currentColor" stroke-width="{n(stroke)}"' if stroke else ""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<rect x="{n(x)}" y="{n(y)}" width="{n(w)}" height="{n(h)}" fill="{fill}"{line}{dashed}/>'


@lru_cache(maxsize=4096)  # a strip has few places and few grades, a board has thousands of cells
def grade_cell(x: float, y: float, s: float, level: str, help: str = "none") -> str:
    """Draw a graded square of side `s` at x, y; its help dots hang below and need .34 s more height."""
    require_known(help, HELP_DOTS)
    if level == "go_around":
        return go_around_arrow(x, y, s)
    return _square(x, y, s, level, help) + _help_marks(x, y, s, help)


def _square(x: float, y: float, s: float, level: str, help: str) -> str:
    w = s * 0.09
    outline = (x + w / 2, y + w / 2, s - w, s - w)
    if level == "not_observed":
        return rect(*outline, "none", w, f"{n(s * 0.16)} {n(s * 0.14)}")
    if level == "perform" and help == "none":  # to standard: the only seamless block
        return rect(x, y, s, s, "currentColor")
    body = rect(*outline, "var(--paper)", w)
    if level == "perform":
        gap = w + s * 0.11
        return body + rect(x + gap, y + gap, s - 2 * gap, s - 2 * gap, "currentColor")
    require_known(level, LEVEL_FILL)
    inner = s - 2 * w
    high = inner * LEVEL_FILL[level] + w / 2
    return body + rect(x + w / 2, y + w + inner - high + w / 2, s - w, high, "currentColor")


def _help_marks(x: float, y: float, s: float, help: str) -> str:
    if help == "took_control":
        o = s * 0.14
        return strike_path(f"M{n(x - o)} {n(y + s + o)}L{n(x + s + o)} {n(y - o)}", s * 0.14)
    return "".join(
        f'<circle cx="{n(x + s * place)}" cy="{n(y + s * 1.2)}" r="{n(s * 0.095)}" fill="currentColor"/>'
        for place in HELP_DOTS[help]
    )


def go_around_arrow(x: float, y: float, s: float) -> str:
    """Draw a go-around: an open arrow, no square."""
    d = (
        f"M{n(x + s * 0.5)} {n(y + s * 0.95)}V{n(y + s * 0.12)}M{n(x + s * 0.16)} {n(y + s * 0.46)}"
        f"L{n(x + s * 0.5)} {n(y + s * 0.1)}L{n(x + s * 0.84)} {n(y + s * 0.46)}"
    )
    return path(d, s * 0.13)


@lru_cache(maxsize=64)
def streak_mark(length: int, needed: int, px: float = 56) -> str:
    """Draw the line under two squares by itself, for a key; it has the accent colour while the row is too short."""
    body = "".join(grade_cell(3 + place * 27, 3, 22, "perform") for place in (0, 1))
    return svg_element(55, 33, body + streak_line(3, 52, 29, length < needed), px=(px, px * 33 / 55))


def streak_line(left: float, right: float, y: float, short: bool, width: float = 3, open_ended: bool = False) -> str:
    """Draw the current row, from `left` to `right`, with an upward tick at each end that is shown."""
    tick = width * 1.25
    start = f"M{n(left)} {n(y)}" if open_ended else f"M{n(left + width / 2)} {n(y - tick)}V{n(y)}"
    d = f"{start}H{n(right - width / 2)}V{n(y - tick)}"
    return path(d, width, stroke="var(--accent)" if short else "currentColor")


@lru_cache(maxsize=512)
def square(level: str, help: str = "none", px: float = 28, label: str | None = None) -> str:
    return svg_element(28, 33, grade_cell(3, 3, 22, level, help), label, px=(px, px * 33 / 28))


def _dot(x: float) -> str:
    return f'<circle cx="{n(x)}" cy="7" r="4" fill="currentColor"/>'


@lru_cache(maxsize=64)
def help_dots(help: str, px: float = 22) -> str:
    """Draw the help mark by itself, for the help keys; return empty text for no help."""
    require_known(help, HELP_DOTS)
    body = {
        "prompted": _dot(13),
        "assisted": _dot(7) + _dot(19),
        "took_control": path("M5 14L21 0", 4),
    }.get(help, "")
    return svg_element(26, 14, body, px=(px, px * 14 / 26)) if body else ""


@lru_cache(maxsize=128)
def triangle(state: str, px: float = 26, label: str | None = None) -> str:
    """Draw the mark of something required: met, open, lapsed, not_known or set_aside."""
    require_known(state, TRIANGLE_STATES)
    fill = "currentColor" if state in ("met", "lapsed") else "none"
    dash = "4 3.2" if state == "not_known" else ""
    body = path("M13 3L24 22.5H2Z", 3, fill=fill, dash=dash)
    if state == "lapsed":  # solid, struck once: was met and is out of force
        body += strike_path("M3 25L23 1", 3)
    if state == "set_aside":  # outline with a level bar: passed over, not struck out
        body += path("M1 17H25", 7, stroke="var(--paper)") + path("M0 17H26", 3)
    return svg_element(26, 26, body, label, px=(px, px))


@lru_cache(maxsize=128)
def stamp(state: str, px: float = 26, label: str | None = None) -> str:
    """Draw the mark of a signature: signed, waiting, not_asked, refused or withdrawn.

    The last two look alike: a word beside the mark says which."""
    require_known(state, STAMP_STATES)
    dash = ' stroke-dasharray="4 3.4"' if state == "not_asked" else ""
    body = f'<circle cx="13" cy="13" r="10.5" fill="none" stroke="currentColor" stroke-width="2.6"{dash}/>'
    if state == "signed":
        body += '<circle cx="13" cy="13" r="6.8" fill="currentColor"/>'
    if state in ("withdrawn", "refused"):
        body += strike_path("M4 24L22 2", 3)
    return svg_element(26, 26, body, label, px=(px, px))


@lru_cache(maxsize=32)
def storage_mark(place: str, px: float = 26, label: str | None = None) -> str:
    """Draw where a record is stored: `here`, on this device only; `school`, in the school's record."""
    fill = "currentColor" if require_known(place, STORAGE_PLACES) == "school" else "none"
    return svg_element(26, 26, path("M5 2.5H16L21 7.5V23.5H5Z", 2.6, fill=fill), label, px=(px, px))


@lru_cache(maxsize=32)
def pointer(place: str, px: float = 26) -> str:
    """Draw a measured value by itself, for a key: inside, outside, unsure, off_scale or not_measured."""
    bodies = {
        "unsure": half_diamond(13, 13, 9),
        "inside": diamond(13, 13, 9, True),
        "outside": diamond(13, 13, 9, False),
        "off_scale": path("M6 3.5L21 13L6 22.5Z", 3, fill="var(--paper)"),
        "not_measured": path("M4 13H22", 3.4, dash="4.8 2"),
    }
    return svg_element(26, 26, bodies[require_known(place, bodies)], px=(px, px))


def half_diamond(x: float, y: float, r: float) -> str:
    """Draw a value whose uncertainty reaches over the edge of its tolerance: half inside, half outside."""
    left = f"M{n(x)} {n(y - r)}L{n(x - r)} {n(y)}L{n(x)} {n(y + r)}Z"
    return diamond(x, y, r, False) + path(left, 1, fill="currentColor")


def diamond(x: float, y: float, r: float, inside: bool) -> str:
    d = f"M{n(x)} {n(y - r)}L{n(x + r)} {n(y)}L{n(x)} {n(y + r)}L{n(x - r)} {n(y)}Z"
    return path(d, r * 0.36, fill="currentColor" if inside else "var(--paper)")
