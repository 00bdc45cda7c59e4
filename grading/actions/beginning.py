"""Begin a lesson. A solo that no release in force allows begins with a written reason, or not at all."""

import uuid as uuids
from datetime import date, datetime

from django.db import transaction

from grading.reading.release_limits import breaches_at_beginning
from lessons import actions as lesson_actions
from lessons.models import Enrolment, Lesson, Unit
from lessons.rules.scale import UnitKind
from school import journal
from school.errors import Refusal
from school.models import Aircraft, Person, Runway
from school.reasons import limited_text


class ReasonNeeded(Refusal):
    """A solo outside a release for which nobody has written why."""


@transaction.atomic
def begin_lesson(
    *,
    enrolment: Enrolment,
    unit: Unit,
    on: date,
    instructor: Person,
    by: Person,
    at: datetime,
    aircraft: Aircraft | None = None,
    runway: Runway | None = None,
    uid: uuids.UUID | None = None,
    outside_release: str = "",
    flown_already: bool = False,
) -> Lesson:
    """Open the record of a lesson; refuse a unit of solo outside a release without its reason.

    `flown_already`: it was begun where nobody could ask the school. What happened is then recorded in any case, and the
    reason is asked for before the signature.
    """
    reason = limited_text(outside_release)
    # The enrolment is locked from here on: a release that is withdrawn meanwhile waits, or is seen below.
    lesson = lesson_actions.begin_lesson(
        enrolment=enrolment,
        unit=unit,
        on=on,
        instructor=instructor,
        by=by,
        at=at,
        aircraft=aircraft,
        runway=runway,
        uid=uid,
    )
    # Only a unit of solo: a dual lesson may end with a solo that nobody planned, which signing asks about.
    breaches = breaches_at_beginning(lesson) if unit.kind == UnitKind.SOLO else []
    if not breaches:
        return lesson
    if not reason and not flown_already:
        raise ReasonNeeded("No release allows this solo: write why it is flown anyway, or choose a dual unit.")
    if reason:
        lesson.outside_release = reason
        lesson.save(update_fields=["outside_release"])
        said = " ".join(breach.sentence for breach in breaches)
        after = {"outside": said, "reason": reason}
        journal.record(by=by, at=at, what="solo begun outside a release", subject=lesson, after=after)
    return lesson
