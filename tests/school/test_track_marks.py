"""The figures of a flight track: the way solid over the dotted target, the heights in their uncertainty."""

import re
from xml.etree import ElementTree

import pytest

from school import marks
from school.marks import PlanGate, PlanGround, ProfileGate

SVG = "{http://www.w3.org/2000/svg}"
GROUND = PlanGround([(0, 0), (4000, 0), (4000, 3000), (-2000, 3000), (-2000, 0), (0, 0)], (-500, 2500), "18", True)
GATES = [PlanGate(1, 4000, 0, "inside"), PlanGate(2, 0, 3000, "unsure"), PlanGate(3, -2000, 0, "not_measured")]
WAY = [(0.0, 0.0), (4300.0, 100.0), (4300.0, 3400.0), (-2200.0, 3400.0), (-2200.0, 50.0), (0.0, 0.0)]
PROFILE = [(0.0, 0.0), (5000.0, 500.0), (12_000.0, 900.0), (20_000.0, 400.0), (26_000.0, 0.0)]


def parse(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def numbers_of(drawing: str) -> list[float]:
    size = parse(drawing).get("viewBox", "").split()[2:]
    return [float(row) for row in size]


def solid_lines(drawing: str) -> list[str]:
    rows = parse(drawing).iter(f"{SVG}path")
    return [row.get("d", "") for row in rows if row.get("stroke-width") == "3" and not row.get("stroke-dasharray")]


@pytest.mark.parametrize("narrow", [False, True])
def test_the_way_is_a_solid_line_inside_the_drawing(narrow: bool) -> None:
    drawing = marks.flown_plan(GROUND, GATES, "The way", narrow=narrow, way=WAY)
    way = next(line for line in solid_lines(drawing) if line.count("L") == len(WAY) - 1)
    points = [tuple(map(float, point.split())) for point in re.split("[ML]", way) if point]
    wide, high = numbers_of(drawing)
    assert all(0 <= x <= wide and 0 <= y <= high for x, y in points)
    again = marks.flown_plan(GROUND, GATES, "The way", narrow=narrow, way=WAY, earlier=[WAY[:4], WAY])
    assert again.count('stroke-width="1.3"') == 2
    assert not any(line.count("L") == len(WAY) - 1 for line in solid_lines(marks.flown_plan(GROUND, GATES, "None")))


def test_a_gate_that_is_not_certain_is_half_filled() -> None:
    certain = [PlanGate(gate.number, gate.x, gate.y, "inside") for gate in GATES]
    assert marks.flown_plan(GROUND, GATES, "A") != marks.flown_plan(GROUND, certain, "A")
    shapes = {marks.pointer(place).split(">", 1)[1] for place in ("inside", "outside", "unsure", "not_measured")}
    assert len(shapes) == 4


@pytest.mark.parametrize("narrow", [False, True])
def test_heights_stand_in_their_uncertainty_with_a_bracket_for_each_gate(narrow: bool) -> None:
    gates = [ProfileGate(4, 5000, 400, 600), ProfileGate(7, 12_000, 800, 1000)]
    drawing = marks.track_profile(PROFILE, 65, gates, ("ft", "ft"), 'A "<b>"', narrow=narrow)
    words = [row.text for row in parse(drawing).iter(f"{SVG}text")]
    assert {"Height, ft", "4", "7", "0", "end"} <= set(words)
    (tint,) = (row for row in parse(drawing).iter(f"{SVG}path") if row.get("fill") == "var(--land)")
    # As on paper, where the tint is white.
    assert tint.get("stroke") == "var(--hair)"
    wider = marks.track_profile(PROFILE, 130, gates, ("ft", "ft"), 'A "<b>"', narrow=narrow)
    assert wider != drawing
    assert parse(drawing).get("aria-label") == 'A "<b>"'


def test_lines_of_the_key_differ() -> None:
    assert len({marks.strip_key(name) for name in ("thick", "earlier", "way", "dotted", "target")}) == 5
