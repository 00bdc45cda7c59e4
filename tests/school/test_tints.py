"""On paper the tint of a tolerance is white: without its outline it would vanish from every printed figure."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from school import marks
from school.marks import CircuitMarks, GateMark, GateSeries, PartGrade, PartSpan, Strip, StripGate, StripLine

TINTED = re.compile(r'<[^>]*fill="var\(--land\)"[^>]*>')
OUTLINE = re.compile(r'stroke="(?:currentColor|var\(--hair\)|var\(--ink-2\))"')
GATES = [GateMark(1, "Lift-off", 0, 0, 0), GateMark(2, "Abeam", 900, 500, 400, 700, 50, 50)]
GATES += [GateMark(3, "Final", 1500, -100, 0, 200, 30, 30)]
SERIES = GateSeries("final/speed", "Final speed", "68 kt +10 \u22125", 10, 5, "fast", "slow")
STRIP_GATES = [StripGate(2, 900, 700, 50, 50), StripGate(3, 1500, 200, 30, 30)]


def tinted_figures() -> Iterator[str]:
    yield marks.circuit_plan(GATES, [(0, 0), (500, 400)], (-100, 900), True, "Plan")
    yield marks.circuit_profile(GATES, 1000, "Profile")
    circuit = CircuitMarks(1, {"landing": PartGrade("perform")}, {"final/speed": 3.0})
    yield marks.circuits_figure([("Lesson 1", "1 June", [circuit])], [SERIES], {"landing": PartSpan(1, False, "1")}, "")
    yield marks.deviation_scale(3, 10, 5, "Speed")
    yield marks.deviation_spread([1, 2], 10, 5, (0, 3), "Speed")
    line = StripLine({2: 690, 3: 210})
    for gates in (STRIP_GATES, STRIP_GATES[:1]):
        yield marks.flown_strips([Strip("height", "Height, ft", gates, [line])], [(2, 900), (3, 1500)], [], "Strips")
    yield marks.touchdown_strip([marks.TouchdownSpot("1", 300, True)], (0, 800), "ft", "Touchdowns")
    yield marks.strip_key("target")


@pytest.mark.parametrize("drawing", list(tinted_figures()))
def test_every_tint_has_its_outline(drawing: str) -> None:
    tinted = TINTED.findall(drawing)
    assert tinted
    assert [shape for shape in tinted if not OUTLINE.search(shape)] == []


def test_the_tint_is_white_in_print_and_its_outline_is_not() -> None:
    """What the others rest on: in print the tint has the colour of the paper and the hair line has not."""
    css = (Path(settings.BASE_DIR) / "school/static/school/tokens.css").read_text()
    printed = css.split("@media print")[1].split("@media")[0]
    colours = dict(re.findall(r"(--[\w-]+): (#\w+);", printed))
    assert colours["--land"] == colours["--paper"] == "#FFFFFF"
    assert colours["--hair"] != colours["--paper"]


def test_no_other_module_draws_a_tint_without_a_line() -> None:
    sources = [*Path(settings.BASE_DIR).glob("school/marks/*.py"), *Path(settings.BASE_DIR).glob("*/pages/*.py")]
    bare = [
        path.name
        for path in sources
        for near in re.findall(r'fill="var\(--land\)"[\s\S]{0,90}', path.read_text())
        if "stroke=" not in near
    ]
    assert bare == []
