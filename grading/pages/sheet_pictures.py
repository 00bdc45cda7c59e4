"""This module draws the pictures of a progress sheet from its plain content, which is what was sealed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import msgspec

from grading.pages.flown_pictures import flown_strips, part_of_circuit, touchdown_strip
from grading.pages.progress_over_time import draw_progress, progress_sentence
from grading.rules.flown import FlownCircuit, Pattern, circuit_sentence
from grading.rules.progress import Progress
from lessons.rules.units import DisplayUnits

PRINT_FONT = "Atkinson Hyperlegible Next"
# As many as leave room for the rest of a page.
NUMBERS_ON_SHEET, FAULTS_ON_SHEET = 3, 3


@dataclass(frozen=True)
class SheetPictures:
    """The drawings of a sheet and their sentences; a drawing is empty where there is nothing to draw."""

    approach: str
    approach_words: str
    touchdowns: str
    progress: str
    progress_words: str


def draw_sheet_pictures(sheet: Mapping[str, Any]) -> SheetPictures | None:
    """Return the drawings, None for a sheet without circuits, and for one printed before there were any."""
    progress = msgspec.convert(sheet.get("progress") or {}, Progress) if sheet.get("progress") else None
    if progress is None or not progress.columns:
        return None
    units = DisplayUnits(**sheet["units"])
    sentence = progress_sentence(progress)
    drawn = draw_progress(_fitting(progress), units, sentence, halo=False)
    approach, words, touchdowns = _approaches(sheet.get("approaches"))
    return SheetPictures(_for_paper(approach), words, _for_paper(touchdowns), _for_paper(drawn), sentence)


def _for_paper(svg: str) -> str:
    # The printer of sheets applies no style sheet within a drawing.
    return svg.replace("<svg ", f'<svg font-family="{PRINT_FONT}" ', 1)


def _fitting(progress: Progress) -> Progress:
    chosen = sorted(progress.numbers, key=lambda row: -row.noted)[:NUMBERS_ON_SHEET]
    numbers = tuple(row for row in progress.numbers if row in chosen)
    return replace(progress, numbers=numbers, faults=progress.faults[:FAULTS_ON_SHEET])


def _approaches(plain: Mapping[str, Any] | None) -> tuple[str, str, str]:
    if not plain:
        return "", "", ""
    pattern = msgspec.convert(plain["pattern"], Pattern)
    circuits = msgspec.convert(plain["circuits"], list[FlownCircuit])
    newest = circuits[-1]
    words = f"Lesson {newest.lesson}. {circuit_sentence(newest, pattern)}"
    gates = part_of_circuit(pattern, out=False)
    strips = flown_strips(pattern, gates, circuits, words, thick=True, halo=False) if gates else ""
    target = pattern.touchdown
    noted = target is not None and any(target.key in row.values for row in circuits)
    touchdowns = touchdown_strip(pattern, circuits, words, newest, halo=False) if noted else ""
    return strips, words, touchdowns
