"""The figures of progress: bars by level, help, numbers about their target, faults, hours; nothing leaves the frame."""

import random
import re

import pytest

from school.marks import FaultMarks, GateSeries, MonthHours, PartGrade, ProgressRows, hours_by_month, progress_figure

LEVELS = ("not_observed", "describe", "explain", "practice", "perform", "go_around")
HELPS = ("none", "prompted", "assisted", "took_control")
SPEED = GateSeries("final/speed", "Final, speed", "+10 \u22125 kt", 10, 5, "fast", "slow")


def one_part(*grades: PartGrade | None) -> ProgressRows:
    return ProgressRows([1] * len(grades), [("Landing", "2 of 3", grades)], [], [])


def bar_heights(svg: str) -> list[float]:
    return [
        float(high) for high in re.findall(r'<rect [^>]*height="([\d.]+)" fill="(?:currentColor|var\(--paper\))"', svg)
    ]


def test_a_bar_grows_with_the_level_and_is_solid_only_to_standard_without_help() -> None:
    rows = one_part(*(PartGrade(level) for level in ("describe", "explain", "practice", "perform")))
    svg = progress_figure(rows, "Progress")
    heights = bar_heights(svg)
    assert heights == sorted(set(heights))
    assert svg.count('fill="currentColor"/>') == 1
    assert 'fill="currentColor"/>' not in progress_figure(one_part(PartGrade("perform", "took_control")), "Progress")


@pytest.mark.parametrize(("help_", "dots"), [("none", 0), ("prompted", 1), ("assisted", 2), ("took_control", 0)])
def test_help_is_in_dots_under_the_bar(help_: str, dots: int) -> None:
    assert progress_figure(one_part(PartGrade("practice", help_)), "Progress").count("<circle") == dots


def test_every_grade_has_a_shape_of_its_own() -> None:
    drawn = {progress_figure(one_part(PartGrade(level, help_)), "P") for level in LEVELS[1:-1] for help_ in HELPS}
    assert len(drawn) == 16
    assert len({progress_figure(one_part(grade), "P") for grade in (None, PartGrade("go_around"))}) == 2


def test_a_number_outside_is_open_and_one_beyond_the_scale_an_arrowhead() -> None:
    def drawn(amount: float) -> str:
        return progress_figure(ProgressRows([1], [], [(SPEED, [amount])], []), "Progress")

    assert 'Z" fill="currentColor"' in drawn(10)
    assert 'Z" fill="var(--paper)"' in drawn(10.1)
    assert drawn(21).count("L") < drawn(20).count("L")


def test_an_open_fault_runs_to_the_end_in_the_accent_and_a_cleared_one_ends_in_ink() -> None:
    rows = ProgressRows([1] * 8, [], [], [FaultMarks("Float", [1], [(1, 4)]), FaultMarks("High", [2, 5], [(2, None)])])
    svg = progress_figure(rows, "Progress")
    assert svg.count("var(--accent)") == 1
    assert svg.count("<circle") == 3
    assert (">open<" in svg, ">cleared<" in svg) == (True, True)


def test_each_lesson_begins_with_a_line_and_the_newest_has_its_number() -> None:
    lessons = [lesson for lesson in range(1, 41) for _ in range(2)]
    svg = progress_figure(ProgressRows(lessons, [], [], []), "Progress", narrow=True)
    assert svg.count('stroke="var(--hair)"') == 40
    assert ">40<" in svg


def random_rows(chance: random.Random) -> ProgressRows:
    many = chance.randint(1, 120)
    grades = [chance.choice([None, PartGrade(chance.choice(LEVELS), chance.choice(HELPS))]) for _ in range(many)]
    amounts = [chance.choice([None, chance.gauss(0, chance.choice([3, 30, 3000]))]) for _ in range(many)]
    begin = chance.randrange(many)
    fault = FaultMarks("Round-out high", [begin], [(begin, chance.choice([None, chance.randrange(begin, many)]))])
    return ProgressRows(sorted(chance.randint(1, 30) for _ in range(many)), [("Landing", "8 of 10", grades)],
                        [(SPEED, amounts)], [fault])  # fmt: skip


@pytest.mark.parametrize("seed", range(300))
def test_progress_at_random_stays_inside_its_frame(seed: int) -> None:
    chance = random.Random(seed)
    svg = progress_figure(random_rows(chance), "Progress", narrow=chance.random() < 0.5)
    assert "nan" not in svg
    width, height = (float(part) for part in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)[0])
    for d in re.findall(r'<path d="([^"]*)"', svg):
        across = [float(x) for x in re.findall(r"[MLH](-?[\d.]+)", d)]
        down = [float(y) for y in re.findall(r"(?:[ML]-?[\d.]+ |V)(-?[\d.]+)", d)]
        assert min(across) >= -0.5
        assert max(across) <= width + 0.5
        assert min(down, default=0) >= -0.5
        assert max(down, default=0) <= height + 0.5


def test_the_hours_of_a_month_are_over_its_bar() -> None:
    months = [
        MonthHours("Oct 26", 570, 0, "9.5"),
        MonthHours("Nov 26", 0, 0, "0.0"),
        MonthHours("Dec 26", 60, 90, "2.5"),
    ]
    svg = hours_by_month(months, "Hours")
    assert (svg.count("<rect"), ">9.5<" in svg, ">0.0<" in svg, ">2.5<" in svg) == (3, True, False, True)
