"""Validate a handwritten signature: strokes of points as JSON. Pure."""

import json
from typing import Any

from school.errors import Refusal
from school.marks.handwriting import HEIGHT, WIDTH

# Stored as long as the record, so it is bounded. The points fit into the characters: “[600,200],” is ten of them.
MAX_CHARACTERS = 40_000
MAX_LINES = 60
MAX_POINTS = 3_000


def validate_strokes(text: str) -> str:
    """Return the strokes in their shortest form: [[[x, y], ...], ...] with 0 <= x <= WIDTH, 0 <= y <= HEIGHT.

    Return an empty text where there is no stroke. Refuse anything else.
    """
    if not text.strip():
        return ""
    # Before it is parsed: the parsed lists take many times the memory of the text.
    if len(text) > MAX_CHARACTERS:
        raise _refusal("is too long")
    try:
        lines = json.loads(text)
    # Thousands of opening brackets are short and exhaust the parser's stack.
    except (ValueError, RecursionError) as error:
        raise _refusal("could not be read") from error
    if not isinstance(lines, list) or len(lines) > MAX_LINES:
        raise _refusal("has too many lines")
    if not all(isinstance(line, list) and line for line in lines) or sum(map(len, lines)) > MAX_POINTS:
        raise _refusal("could not be read")
    if not all(_is_point(point) for line in lines for point in line):
        raise _refusal("has a point outside of its frame")
    # Written again, so that the stored text has one form and nothing but what was checked.
    return json.dumps(lines, separators=(",", ":")) if lines else ""


def _is_point(point: Any) -> bool:
    return (
        isinstance(point, list)
        and len(point) == 2
        # Not isinstance: True is an int as well, and JSON allows it.
        and all(type(value) is int for value in point)
        and 0 <= point[0] <= WIDTH
        and 0 <= point[1] <= HEIGHT
    )


def _refusal(why: str) -> Refusal:
    return Refusal(f"What was drawn {why}: clear it and draw again, or sign without it. Nothing was signed.")
