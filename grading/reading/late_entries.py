"""Read what came late: entries of one tablet that are older than those of another on the same field."""

import uuid as uuids
from dataclasses import dataclass
from datetime import UTC, datetime

from django.db.models import Exists, OuterRef, Subquery
from django.db.models.functions import Coalesce

from grading.models import DeviceEvent, Tap
from grading.rules.late_entries import fields_of_same_entry
from lessons.models import DiscardedLesson, Lesson

# A circuit is closed once, whoever closes it: a second closing changes nothing and asks nothing.
NEVER_ASKED = (".closed",)


@dataclass(frozen=True)
class StandingTap:
    """The last tap of a field; `moment`: when it was made, by the school's clock as far as its device could tell.

    `device` is None for an entry by a plain form.
    """

    tap: Tap
    moment: datetime
    device: uuids.UUID | None

    @property
    def words(self) -> str:
        return f"“{_in_words(self.tap.after)}”, entered by {self.tap.person} at {self.moment.astimezone(UTC):%H:%M} UTC"


@dataclass(frozen=True)
class LateQuestion:
    """An entry that came late and is not decided yet, beside the tap that stands in its field, if one does."""

    event: DeviceEvent
    standing: StandingTap | None

    @property
    def entry(self) -> str:
        return Tap(field=self.event.field).entry

    @property
    def value(self) -> str:
        return _in_words(self.event.value)

    @property
    def standing_value(self) -> str:
        return _in_words(self.standing.tap.after if self.standing else "")


def _in_words(value: str) -> str:
    return (value or "empty").replace("_", " ")


def find_unseen(lesson: Lesson, field: str, *, seen: int, device: uuids.UUID) -> StandingTap | None:
    """Return the tap that stands in a field, where a device neither made nor saw it; `seen`: the last one it knew."""
    if field.endswith(NEVER_ASKED):
        return None
    standing = _last_tap(lesson, field, after=seen)
    return None if standing is None or standing.device == device else standing


def _last_tap(lesson: Lesson, field: str, after: int = 0) -> StandingTap | None:
    event = DeviceEvent.objects.filter(uid=OuterRef("uid"))
    taps = Tap.objects.filter(lesson=lesson, field__in=fields_of_same_entry(field), pk__gt=after)
    last = (
        taps.annotate(
            moment=Coalesce(Subquery(event.values("tap_time")), "at"), device=Subquery(event.values("device"))
        )
        .select_related("person")
        .order_by("id")
        .last()
    )
    return StandingTap(last, last.moment, last.device) if last else None


def describe_late(field: str, value: str, standing: StandingTap) -> str:
    """Return the sentence for the tablet whose entry came late."""
    return (
        f"{Tap(field=field).entry}: {standing.words}, is newer than “{_in_words(value)}” from this tablet."
        " The lesson page asks which to keep."
    )


def open_questions(lesson: Lesson) -> list[LateQuestion]:
    """Return what came late and is not decided, oldest first.

    An entry is decided once its device said something newer about the field, somebody entered the field after it
    came, or the instructor answered.
    """
    came = DeviceEvent.objects.filter(lesson=lesson, outcome=DeviceEvent.Outcome.LATE)
    newer = DeviceEvent.objects.filter(
        lesson=lesson, device=OuterRef("device"), field=OuterRef("field"), pk__gt=OuterRef("pk")
    )
    questions = []
    for event in came.exclude(Exists(newer)).order_by("pk"):
        standing = _last_tap(lesson, event.field)
        if standing is None or standing.tap.at <= event.at:
            questions.append(LateQuestion(event, standing))
    return questions


def may_still_begin(lesson_uid: uuids.UUID) -> bool:
    """Return whether a lesson that is not on record may begin yet: no tablet began it, and nobody discarded it."""
    if DeviceEvent.objects.filter(kind=DeviceEvent.Kind.BEGIN, lesson_uid=lesson_uid).exists():
        return False
    return not DiscardedLesson.objects.filter(uid=lesson_uid).exists()
