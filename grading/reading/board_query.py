"""Ask the stored verdicts for the board: who matches a filter, in which order, and how many there are of each.

All of it is one condition on the stored row, so that the board of an academy is paged by the database.
"""

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db import models
from django.db.models import Count, Exists, OuterRef, Q
from django.db.models.fields.json import KT

from grading.models import StoredVerdict
from grading.reading.next_act import NextAct
from grading.reading.release_status import ReleasePhase
from lessons.models import Enrolment, Lesson


class BoardRequest(NamedTuple):
    """What a reader asked for, as typed; an unknown value selects as an empty one does."""

    show: str = ""
    q: str = ""
    instructor: str = ""
    unit: str = ""
    aircraft: str = ""
    sort: str = ""


# Each is a question about one stored row; "unsigned" is the only one about another table.
CONDITIONS: dict[str, Q] = {
    "decision": Q(row__act__in=[NextAct.DECISION, NextAct.WITHDRAWN]),
    "close": Q(row__act__in=[NextAct.CLOSE, NextAct.ENDORSEMENT]),
    "stuck": Q(row__stuck=True),
    "slipped": ~Q(row__slips=[]),
    "documents": Q(row__documents=True),
    "expiring": Q(row__release__phase__in=[ReleasePhase.EXPIRING, ReleasePhase.EXPIRED]),
    "released": Q(row__act__in=[NextAct.RELEASED, NextAct.RELEASE_ENDS]),
}
ORDERS: dict[str, tuple[str, ...]] = {
    "": ("row__act", "row__to_go"),
    "name": (),
    "open": ("row__open",),
    "flown": ("row__last_flown",),
}
BY_NAME = ("enrolment__student__family_name", "enrolment__student__given_name", "pk")


@dataclass(frozen=True)
class BoardChoices:
    """What the board can be narrowed to: instructors and types by key with their name, units by number."""

    instructors: list[tuple[str, str]]
    units: list[str]
    aircraft: list[tuple[str, str]]


def unsigned_lessons(on: date) -> models.QuerySet[Lesson]:
    """Return the lessons of earlier days that wait for a signature; one still being written waits for nobody."""
    return Lesson.objects.unsigned().filter(on__lt=on)


def select_enrolments(asked: BoardRequest, on: date) -> models.QuerySet[Enrolment]:
    """Return the students in training that a search, an instructor and a type leave."""
    rows = Enrolment.objects.active(on).search(asked.q)
    if asked.instructor.isdecimal():
        rows = rows.filter(instructor=int(asked.instructor))
    if asked.aircraft.isdecimal():
        rows = rows.filter(aircraft_type=int(asked.aircraft))
    return rows


def _waits(on: date) -> Exists:
    return Exists(unsigned_lessons(on).filter(enrolment=OuterRef("enrolment")))


def _stored(asked: BoardRequest, on: date) -> models.QuerySet[StoredVerdict]:
    rows = StoredVerdict.objects.filter(enrolment__in=select_enrolments(asked, on))
    return rows.filter(row__unit=int(asked.unit)) if asked.unit.isdecimal() else rows


def select_rows(asked: BoardRequest, on: date) -> models.QuerySet[StoredVerdict]:
    """Return the stored rows that match, in the order asked for, with what a page shows of the student."""
    rows = _stored(asked, on).defer("content").select_related("enrolment__student", "enrolment__instructor")
    rows = rows.select_related("enrolment__aircraft_type")
    if asked.show == "unsigned":
        rows = rows.filter(_waits(on))
    elif asked.show in CONDITIONS:
        rows = rows.filter(CONDITIONS[asked.show])
    return rows.order_by(*ORDERS.get(asked.sort, ORDERS[""]), *BY_NAME)


def count_rows(asked: BoardRequest, on: date) -> dict[str, int]:
    """Return how many match each filter beside what else was asked for; "" is all. One query."""
    counted = {name: Count("pk", filter=condition) for name, condition in CONDITIONS.items()}
    counts = _stored(asked, on).aggregate(
        **counted,
        all=Count("pk"),
        unsigned=Count("pk", filter=Q(_waits(on))),
        expired=Count("pk", filter=Q(row__release__phase=ReleasePhase.EXPIRED)),
        withdrawn=Count("pk", filter=Q(row__act=NextAct.WITHDRAWN)),
        unendorsed=Count("pk", filter=Q(row__act=NextAct.ENDORSEMENT)),
        unread=Count("pk", filter=Q(row__release__unconfirmed=True)),
        stopped=Count("pk", filter=Q(row__waits_for_paper=True)),
    )
    return {**counts, "": counts["all"]}


def count_unsigned_by_instructor(asked: BoardRequest, on: date) -> list[tuple[str, int]]:
    """Return who has lessons to sign and how many, the most first. One query."""
    rows = unsigned_lessons(on).filter(enrolment__in=select_enrolments(asked, on)).order_by()
    counted = rows.values_list("instructor__family_name").annotate(count=Count("pk"))
    return list(counted.order_by("-count", "instructor__family_name"))


def board_choices(on: date) -> BoardChoices:
    """Return what the students in training can be narrowed to. Three queries."""
    active = Enrolment.objects.active(on).order_by()
    people = active.values_list("instructor", "instructor__given_name", "instructor__family_name").distinct()
    types = active.values_list("aircraft_type", "aircraft_type__name").distinct().order_by("aircraft_type__name")
    units = StoredVerdict.objects.filter(enrolment__in=active).annotate(number=KT("row__unit"))
    return BoardChoices(
        instructors=[(str(pk), f"{given} {family}") for pk, given, family in sorted(people, key=lambda row: row[2])],
        units=sorted({number for number in units.values_list("number", flat=True).distinct() if number}, key=int),
        aircraft=[(str(pk), name) for pk, name in types],
    )
