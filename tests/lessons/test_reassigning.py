"""Many students are reassigned in one act: all or none, an entry each, undone while nothing rests on it."""

from datetime import timedelta

import pytest

from grading.actions import training
from lessons import actions as lesson_actions
from lessons.actions import INSTRUCTOR_CHANGED
from lessons.models import Enrolment
from lessons.reassigning import find_moved, reassign_students, undo_reassigning
from school.errors import Refusal
from school.models import JournalEntry, Person, Role
from tests.cast import Cast
from tests.factories import add_person, begin_lesson


def reassign(cast: Cast, *, to: Person | None = None, by: Person | None = None, hours: int = 12) -> list[JournalEntry]:
    return reassign_students(
        taught_by={cast.enrolment.uid: cast.bert.pk, cast.other_enrolment.uid: cast.bert.pk},
        instructor=to or cast.cleo, reason="Bert leaves", by=by or cast.amelia, at=cast.at(hours),
    )  # fmt: skip


def teachers() -> set[str]:
    return {row.instructor.given_name for row in Enrolment.objects.select_related("instructor")}


def test_all_move_with_an_entry_each_and_the_act_is_undone(cast: Cast) -> None:
    entries = reassign(cast)
    assert teachers() == {"Cleo"}
    assert {row.about_id for row in entries} == {cast.dora.pk, cast.emil.pk}
    assert entries[0].before == {"instructor": "Bert Example", "number": "T-2"}
    assert entries[0].after == {"instructor": "Cleo Example", "number": "T-3", "reason": "Bert leaves"}
    assert [row.to_undo for row in find_moved(entries[1])] == [True, True]
    # Since then a lesson with the new instructor rests on the move of one, which stays.
    lesson_actions.begin_lesson(
        enrolment=cast.enrolment, unit=cast.units[8], on=cast.today, instructor=cast.cleo, by=cast.cleo,
        at=cast.at(13), aircraft=cast.aircraft, runway=cast.runway,
    )  # fmt: skip
    back = undo_reassigning(entry=entries[0], by=cast.frida, at=cast.at(14))
    assert [(row.about_id, row.after["reason"]) for row in back] == [(cast.emil.pk, "Undone: Bert leaves")]
    cast.other_enrolment.refresh_from_db()
    assert cast.other_enrolment.instructor == cast.bert
    with pytest.raises(Refusal, match="Nothing is left to undo"):
        undo_reassigning(entry=entries[0], by=cast.frida, at=cast.at(15))


def test_one_who_cannot_move_holds_back_all(cast: Cast) -> None:
    def refused(because: str, **how: object) -> None:
        with pytest.raises(Refusal, match=because):
            reassign(cast, **how)  # type: ignore[arg-type]
        assert JournalEntry.objects.filter(what=INSTRUCTOR_CHANGED).count() == told

    told = 0
    refused("Only the chief instructor or the administrator", by=cast.bert)
    refused("not on record as an instructor", to=cast.frida)
    refused("Bert Example already has Dora Example and Emil Example", to=cast.bert)
    cast.emil.roles = [Role.STUDENT, Role.INSTRUCTOR]
    cast.emil.save(update_fields=["roles"])
    refused("Nobody may teach or decide in their own training", to=cast.emil)
    # Somebody else was quicker with one of them.
    lesson_actions.change_instructor(enrolment=cast.enrolment, instructor=cast.amelia, by=cast.frida, at=cast.at())
    told = 1
    refused("Meanwhile somebody reassigned Dora Example. Nobody was reassigned now")
    lesson_actions.change_instructor(enrolment=cast.enrolment, instructor=cast.bert, by=cast.frida, at=cast.at())
    told = 2
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    refused("The training of Dora Example has ended. Nobody was reassigned")


def test_nothing_is_undone_late_or_to_somebody_who_teaches_no_more(cast: Cast) -> None:
    [entry, _] = reassign(cast)
    with pytest.raises(Refusal, match="more than 7 days ago"):
        undo_reassigning(entry=entry, by=cast.amelia, at=cast.at() + timedelta(days=8))
    with pytest.raises(Refusal, match="Only the chief instructor or the administrator"):
        undo_reassigning(entry=entry, by=cast.bert, at=cast.at(13))
    Person.objects.filter(pk=cast.bert.pk).update(is_active=False)
    with pytest.raises(Refusal, match="Bert Example is no longer an instructor here"):
        undo_reassigning(entry=entry, by=cast.amelia, at=cast.at(13))
    assert teachers() == {"Cleo"}


def test_nothing_is_reassigned_without_a_reason_or_a_student(cast: Cast) -> None:
    with pytest.raises(Refusal, match="Write why"):
        reassign_students(
            taught_by={cast.enrolment.uid: cast.bert.pk}, instructor=cast.cleo, reason=" ", by=cast.amelia, at=cast.at()
        )
    with pytest.raises(Refusal, match="Choose at least one student"):
        reassign_students(taught_by={}, instructor=cast.cleo, reason="So", by=cast.amelia, at=cast.at())
    somebody = add_person("Gone", "T-9", Role.INSTRUCTOR, at=cast.at())
    Person.objects.filter(pk=somebody.pk).update(is_active=False)
    with pytest.raises(Refusal, match="cannot log in any more"):
        reassign(cast, to=somebody)
    begin_lesson(cast)
    assert teachers() == {"Bert"}
