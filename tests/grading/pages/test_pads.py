"""The keys of an attempt are those that the type flown can show. The project's own rule; the types are invented."""

import pytest

from grading.pages.pads import PadMaker
from grading.reading.grade_lines import load_attempts, load_grading_context
from grading.simulation.demo.demo_school import FIXTURES
from lessons.loading import load_aircraft_type
from lessons.models import Fault, Lesson
from school.models import Aircraft
from tests.cast import Cast
from tests.factories import begin_lesson, record_entries


def pad_keys(lesson: Lesson, code: str) -> tuple[set[str], set[str]]:
    """Return the codes of the faults and the texts of the criteria of the pad of a part in the first circuit."""
    lesson = Lesson.objects.for_pages().get(pk=lesson.pk)
    attempt = next((row for row in load_attempts(lesson) if row.manoeuvre.code == code), None)
    pad = PadMaker(lesson, load_grading_context(lesson)).pad(f"circuit.1.{code}", "", code, attempt).keys
    return {row.code for row in pad.faults}, {row.field.rpartition(".")[2] for row in pad.criteria}


def fly_nosewheel(lesson: Lesson) -> Lesson:
    kind = load_aircraft_type(FIXTURES / "aircraft/nosewheel.json")
    Lesson.objects.filter(pk=lesson.pk).update(aircraft=Aircraft.objects.create(registration="QQ-XXN", type=kind))
    return lesson


@pytest.mark.parametrize(
    ("code", "tailwheel", "nosewheel"),
    [
        ("takeoff", "tail-attitude tailwheel-unlocked wheels-up-early", "wheelbarrowing"),
        ("landing", "touchdown-attitude tailwheel-unlocked", "wheelbarrowing nosewheel-first nose-let-fall"),
        ("downwind", "gear-not-checked gear-horn", ""),
    ],
)
def test_each_type_has_the_faults_of_its_gear(cast: Cast, code: str, tailwheel: str, nosewheel: str) -> None:
    lesson = begin_lesson(cast, 14)
    own, _ = pad_keys(lesson, code)
    other, _ = pad_keys(fly_nosewheel(lesson), code)
    assert own - other == set(tailwheel.split())
    assert other - own == set(nosewheel.split())


def test_each_type_has_the_criteria_of_its_gear(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    _, own = pad_keys(lesson, "takeoff")
    _, other = pad_keys(fly_nosewheel(lesson), "takeoff")
    assert (own - other, other - own) == ({"tailwheel-lock", "tail", "climb-first"}, {"nose"})


def test_what_was_tapped_stays_shown_on_another_type(cast: Cast) -> None:
    lesson = begin_lesson(cast, 14)
    tapped = {"takeoff.level": "practice", "takeoff.fault.tail-attitude": "on", "takeoff.criterion.tail": "not_done"}
    record_entries(cast, lesson, **{f"circuit.1.{field}": value for field, value in tapped.items()})
    faults, criteria = pad_keys(fly_nosewheel(lesson), "takeoff")
    assert "tail-attitude" in faults
    assert "tailwheel-unlocked" not in faults
    assert "tail" in criteria


def test_numbers_point_to_no_fault_of_another_gear(cast: Cast) -> None:
    """The gate “wheels-up” is one of the retractable type, and so is the fault that its height points to."""
    assert Fault.objects.get(code="wheels-up-early").signs == ["wheels-up.height.under"]
    lesson = begin_lesson(cast, 14)
    maker = PadMaker(lesson, load_grading_context(lesson))
    assert "wheels-up-early" in {row.code for row in maker.faults_of("takeoff")}
    lesson = Lesson.objects.for_pages().get(pk=fly_nosewheel(lesson).pk)
    maker = PadMaker(lesson, load_grading_context(lesson))
    assert "wheels-up-early" not in {row.code for row in maker.faults_of("takeoff")}
