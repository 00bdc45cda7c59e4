"""Write the student's own view of a signed lesson, once."""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from grading.models import OwnView
from grading.models.own_view import LINE_LENGTH
from grading.reading.own_view import own_view_of, parts_flown
from lessons.models import Lesson
from lessons.rules.scale import Part, Scale
from school import journal
from school.errors import Refusal
from school.models import Person
from school.reasons import required_text


@transaction.atomic
def write_own_view(*, lesson: Lesson, line: str, levels: Mapping[str, str], by: Person, at: datetime) -> OwnView:
    """Write a line and a level for each part flown, each the code of a step of the lesson's scale. It is final."""
    versions = Lesson.objects.filter(enrolment=lesson.enrolment_id, number=lesson.number)
    # Every version: two requests at once must not write two views of one lesson.
    list(versions.select_for_update(of=("self",)).order_by("pk").values_list("pk"))
    lesson = Lesson.objects.for_pages().get(pk=lesson.pk)
    if lesson.enrolment.student_id != by.pk:
        raise Refusal("Only the student of this lesson may write their own view.")
    if not lesson.is_signed:
        raise Refusal("The instructor signs the lesson first.")
    if own_view_of(lesson) is not None:
        raise Refusal("You have already written your view of this lesson: it is final.")
    line = required_text(line, "Write in a line how the lesson went for you.", LINE_LENGTH)
    chosen = _validate_levels(levels, parts_flown(lesson), lesson.unit.stage.syllabus.scale.scale)
    view = OwnView.objects.create(lesson=lesson, line=line, levels=chosen, written_at=at)
    journal.record(by=by, at=at, what="own view written", subject=lesson, after={"line": line, "levels": chosen})
    return view


def _validate_levels(levels: Mapping[str, str], parts: list[Part], scale: Scale) -> dict[str, str]:
    """Return the levels of the parts flown; refuse a part without one, and a step that the scale does not have."""
    codes = {step.code for step in scale.steps}
    missing = [part.label for part in parts if levels.get(part.value) not in codes]
    if missing:
        raise Refusal(f"Choose a level for: {', '.join(missing)}.")
    return {part.value: levels[part.value] for part in parts}
