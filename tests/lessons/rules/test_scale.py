"""Grade scales: the three that come with the school, and those that make no sense. The project's own rules."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from grading.rules.marking import MarkedAttempt, propose_grade
from lessons.loading import load_scale
from lessons.models import GradeScale
from lessons.rules.scale import LEARNER_CENTRED, GradingRule, Help, Level, Scale, ScaleError, Step

FOLDER = Path(__file__).resolve().parents[3] / "fixtures/scales"
FILES: dict[str, dict[str, Any]] = {path.stem: json.loads(path.read_text()) for path in FOLDER.glob("*.json")}


def scale(name: str) -> Scale:
    return GradeScale(**FILES[name]).scale


def test_the_first_scale_of_the_files_is_the_one_of_the_engine() -> None:
    assert scale("learner-centred") == LEARNER_CENTRED


@pytest.mark.parametrize("name", FILES)
def test_each_scale_names_its_solo_step(name: str) -> None:
    found = scale(name)
    below = found.steps[: found.steps.index(found.step(found.solo))]
    assert all(step.level.rank < Level.PERFORM.rank for step in below)
    assert found.lowest_step_for(Level.PERFORM).code == found.solo
    assert found.lowest_step_for(Level.NOT_OBSERVED).code == "not_observed"


def test_a_five_step_scale_tells_its_upper_two_apart_and_both_are_to_standard() -> None:
    five = scale("five-steps")
    four, best = five.step("4"), five.step("5")
    assert propose_grade([MarkedAttempt(best), MarkedAttempt(best)], five).step == best
    assert propose_grade([MarkedAttempt(best), MarkedAttempt(four)], five).step == four
    assert {four.level, best.level} == {Level.PERFORM}
    assert propose_grade([MarkedAttempt(best, Help.PROMPTED)], five).sentence == "3: with a prompt."


def test_one_scale_marks_by_the_weakest_element() -> None:
    weakest = scale("weakest-element")
    fine, uneven = weakest.step("fine"), weakest.step("uneven")
    flown = [MarkedAttempt(uneven), MarkedAttempt(fine), MarkedAttempt(fine)]
    assert propose_grade(flown, weakest).sentence == "Uneven: as tapped (the weakest of 3)."
    assert propose_grade(flown, replace(weakest, rule=GradingRule.LAST_TWO)).step == fine


STEPS = (Step("a", "A", Level.DESCRIBE), Step("b", "B", Level.PERFORM))


@pytest.mark.parametrize(
    ("steps", "solo", "said"),
    [
        (STEPS[:1], "a", "at least two steps"),
        ((STEPS[0], STEPS[0]), "a", "a code of its own"),
        ((Step("n", "N", Level.NOT_OBSERVED), *STEPS), "b", "never a step"),
        (STEPS[::-1], "b", "higher step means"),
        (STEPS, "a", "the solo step is the lowest"),
        ((Step("b", "B", Level.PERFORM), Step("c", "C", Level.PERFORM)), "b", "no step is below"),
    ],
)
def test_a_scale_without_sense_is_refused(steps: tuple[Step, ...], solo: str, said: str) -> None:
    with pytest.raises(ScaleError, match=said):
        Scale("x", "X", steps, solo)


@pytest.mark.django_db
def test_a_scale_cannot_change_under_old_grades() -> None:
    row = load_scale(FILES["five-steps"])
    assert load_scale(FILES["five-steps"] | {"title": "Another"}).title == row.title
    with pytest.raises(DatabaseError, match="final"), transaction.atomic():
        GradeScale.objects.filter(pk=row.pk).update(solo="3")
    with pytest.raises(DatabaseError, match="final"), transaction.atomic():
        row.delete()
