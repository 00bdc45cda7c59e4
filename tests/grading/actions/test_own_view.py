"""The student's own view of a lesson: who writes it, of what, once, and that it is final."""

from typing import Any

import pytest
from django.db import DatabaseError, transaction

from grading.actions import corrections
from grading.actions.own_view import write_own_view
from grading.evidence.audit.database_guards import GUARDED_TABLES
from grading.models import OwnView
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson

LEVELS = {"takeoff": "perform", "downwind": "perform", "approach": "practice", "landing": "explain"}


def write(cast: Cast, lesson: Any, **changed: Any) -> OwnView:
    asked = {"line": "It felt stable.", "levels": LEVELS, "by": cast.dora, "at": cast.at(13)} | changed
    return write_own_view(lesson=lesson, **asked)


def test_a_view_is_a_line_and_a_level_for_each_part_flown(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    # What was not flown is not asked for and not kept.
    view = write(cast, lesson, line="  It felt stable. ", levels=LEVELS | {"go_around": "perform", "x": "y"})
    assert (view.line, view.levels, view.written_at) == ("It felt stable.", LEVELS, cast.at(13))
    entry = JournalEntry.objects.get(what="own view written")
    assert (entry.person_id, entry.about_id) == (cast.dora.pk, cast.dora.pk)
    assert entry.after == {"line": "It felt stable.", "levels": LEVELS}


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"line": "  "}, "Write in a line how the lesson went for you."),
        ({"line": "x" * 301}, "301 characters long, and 300 are the most"),
        ({"levels": {}}, "Choose a level for: Takeoff, Downwind, Approach, Landing."),
        ({"levels": LEVELS | {"landing": "superb"}}, "Choose a level for: Landing."),
        ({"levels": LEVELS | {"landing": "not_observed"}}, "Choose a level for: Landing."),
    ],
)
def test_what_is_missing_is_named_and_nothing_is_written(cast: Cast, changed: dict[str, Any], sentence: str) -> None:
    lesson = fly_lesson(cast)
    with pytest.raises(Refusal, match=sentence):
        write(cast, lesson, **changed)
    assert not OwnView.objects.exists()


def test_three_hundred_characters_are_allowed(cast: Cast) -> None:
    assert len(write(cast, fly_lesson(cast), line="x" * 300).line) == 300


@pytest.mark.parametrize("who", ["amelia", "bert", "emil", "frida"])
def test_nobody_else_writes_it(cast: Cast, who: str) -> None:
    with pytest.raises(Refusal, match="Only the student of this lesson"):
        write(cast, fly_lesson(cast), by=getattr(cast, who))


def test_the_lesson_is_signed_first(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_circuit(cast, lesson, 1)
    with pytest.raises(Refusal, match="The instructor signs the lesson first"):
        write(cast, lesson)
    # Nor by code that forgets to ask.
    with pytest.raises(DatabaseError, match="an own view is of a signed lesson"), transaction.atomic():
        OwnView.objects.create(lesson=lesson, line="x", written_at=cast.at(13))


def test_what_nobody_saw_the_student_fly_is_not_asked_for(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1, **{"downwind.level": "not_observed"})
    record_circuit(cast, lesson, 2, shown="on", **{"go_around.level": "perform"})
    sign_lesson(cast, lesson)
    view = write(cast, lesson, levels=LEVELS | {"go_around": "perform"})
    assert list(view.levels) == ["takeoff", "approach", "landing"]


def test_it_is_written_once_in_all_versions_of_a_lesson(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    write(cast, lesson)
    version = corrections.begin_correction(lesson=lesson, reason="Typed wrongly.", by=cast.bert, at=cast.at(14))
    sign_lesson(cast, version)
    for row in (lesson, version):
        with pytest.raises(Refusal, match="already written"):
            write(cast, row)


def test_it_is_final(cast: Cast) -> None:
    view = write(cast, fly_lesson(cast))
    for change in (lambda: OwnView.objects.update(line="Another."), view.delete):
        with pytest.raises(DatabaseError, match="an own view is final"), transaction.atomic():
            change()
    assert "grading_ownview" in GUARDED_TABLES
