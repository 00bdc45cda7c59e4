"""Draw the marks of the board: the last ten attempts of one part of the circuit, and the state of a student."""

from collections.abc import Sequence
from functools import lru_cache

from school.marks.svg import n, path, strike_path, svg_element
from school.marks.symbols import require_known, triangle

PLACES = 10
STEP = 5.2  # from one bar to the next


@lru_cache(maxsize=4096)
def ten(outcomes: Sequence[bool], *, met: bool = False, more: int = 0) -> str:
    """Draw the attempts, oldest first, the newest at the right; places not flown yet are dots at the left.

    A tall solid bar is to standard, a low outline is not. met: a closed bracket below; more: the fewest good attempts
    to go, an accent line of that length. No words: they stand beside it.
    """
    newest = tuple(outcomes)[-PLACES:]
    left = PLACES - len(newest)
    good, other, dots = "", "", ""
    for place in range(PLACES):
        x = 1 + place * STEP
        if place < left:
            dots += f"M{n(x + 1.1)} 10h1.8v1.8h-1.8z"
        elif newest[place - left]:
            good += f"M{n(x)} 1h4v12h-4z"
        else:
            other += f"M{n(x + 0.6)} 7.4h2.8v5h-2.8z"
    body = f'<path d="{good}{dots}" fill="currentColor"/>' if good or dots else ""
    body += path(other, 1.2) if other else ""
    if met:
        body += path("M1 14.4V16.5H51.8V14.4", 1.6)
    elif more:
        start = 51.8 - STEP * min(more, PLACES) + 1.2
        body += path(f"M{n(start)} 16.4H51.8", 2.4, stroke="var(--accent)")
    return svg_element(53, 18, body, None, px=(53, 18))


SEALS = {"signed": "currentColor", "waiting": "none", "not_asked": "none", "withdrawn": "none"}
LINES = {"stuck": "M5 5V21M21 5V21M5 13H21", "slipped": "M3 6H12L20 19M20 11V19H12"}


@lru_cache(maxsize=32)
def board_state(state: str, px: float = 20) -> str:
    """Draw a state: a seal on its signing line, a triangle (open, lapsed, before), stuck between posts, or slipped."""
    if state in LINES:
        return svg_element(26, 26, path(LINES[state], 3), None, px=(px, px))
    if state not in SEALS:
        return triangle("open" if state == "before" else state, px)
    fill = SEALS[require_known(state, SEALS)]
    dash = ' stroke-dasharray="4 3.4"' if state == "not_asked" else ""
    body = f'<circle cx="13" cy="10.5" r="7.5" fill="{fill}" stroke="currentColor" stroke-width="2.8"{dash}/>'
    body += path("M2 24H24", 2.4)
    if state == "withdrawn":
        body += strike_path("M4 21L22 2", 3)
    return svg_element(26, 26, body, None, px=(px, px))
