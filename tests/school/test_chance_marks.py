"""The figure of chances over circuits: steps where lessons end, a diamond at the marked circuits, names apart."""

import re
from xml.etree import ElementTree

import pytest

from school.marks import ChanceSteps, chance_steps

NASTY = 'Óda "<b>&</b>"'
GOOD = ChanceSteps("9 in 10", [(10, 0.5), (20, 1.0), (80, 1.0)])
MIDDLING = ChanceSteps("7 in 10", [(10, 0.25), (20, 0.99)])
POOR = ChanceSteps("<5> in 10", [(10, 0.0), (20, 0.1)])


def parse_svg(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(drawing)


@pytest.mark.parametrize(("narrow", "left", "right", "bottom"), [(False, 48, 436, 198), (True, 48, 282, 196)])
def test_the_steps_rise_at_the_lessons_ends(narrow: bool, left: int, right: int, bottom: int) -> None:
    drawing = chance_steps([GOOD, MIDDLING, POOR], 60, 30, [20, 30, 40], NASTY, narrow)
    root = parse_svg(drawing)
    assert root.get("aria-label") == NASTY
    lines = [path.attrib for path in root.iter("path") if path.get("d", "").startswith(f"M{left} {bottom}H")]
    steps = [line for line in lines if "V" in line["d"]]
    tenth = (right - left) / 6
    half_way = bottom - 0.5 * (bottom - 14)
    assert steps[0]["d"].startswith(f"M{left} {bottom}H{left + tenth:.2f}".rstrip("0").rstrip("."))
    numbers = [float(number) for number in re.findall(r"[HV]([\d.]+)", steps[0]["d"])]
    assert numbers == pytest.approx([left + tenth, half_way, left + 2 * tenth, 14, right], abs=0.01)
    assert [line.get("stroke-dasharray", "") for line in steps] == ["", "", "7 4"]


def test_names_at_the_end_do_not_lie_on_each_other() -> None:
    root = parse_svg(chance_steps([GOOD, MIDDLING, POOR], 60, 30, [20, 30, 40], "chances"))
    names = {text.text: float(text.get("y", 0)) for text in root.iter("text") if text.get("font-weight") == "800"}
    assert set(names) == {"9 in 10", "7 in 10", "<5> in 10", "30"}
    assert names["7 in 10"] - names["9 in 10"] >= 15


def test_a_line_has_the_chance_of_the_last_lesson_by_then() -> None:
    assert [GOOD.at(circuits) for circuits in (0, 9, 10, 19, 20, 60)] == [0, 0, 0.5, 0.5, 1, 1]
