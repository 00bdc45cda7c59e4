"""This module packs what an instructor's tablet needs for a day without network, and no more."""

from datetime import date
from typing import Any

from django.db.models import Q
from django.urls import reverse

from grading.models import Release
from grading.reading.course_progress import courses_by_enrolment
from lessons.models import Enrolment, Lesson
from lessons.queries import Course
from lessons.rules.scale import UnitKind
from school.aircraft_documents import CAUTION_DAYS, fleet_expiries
from school.current import get_school, school_zone
from school.days import start_of
from school.formats import write_day
from school.models import Aircraft, Person

# The unit to fly next, the one before it to repeat, and the one after it.
UNIT_OFFSETS = (0, -1, 1)


def build_offline_pack(person: Person, today: date) -> dict[str, Any]:
    """Return the lessons an instructor is writing or began today, and their students with the units around the next
    one.
    """
    mine = Lesson.objects.for_pages().filter(instructor=person)
    lessons = mine.filter(Q(signed_at=None) | Q(begun_at__gte=start_of(today, school_zone()))).newest_first()
    # The instructor's own students alone: a lost tablet must not hold the names of the whole school.
    mine_to_teach = Enrolment.objects.active(today).for_pages().filter(instructor=person)
    enrolments = list(mine_to_teach.order_by("student__family_name", "student__given_name", "pk"))
    courses = courses_by_enrolment(enrolments, today)
    by_day = Release.objects.in_force(today).filter(enrolment__in=enrolments, kind=Release.Kind.DAY)
    released = set(by_day.values_list("enrolment", "aircraft_type"))
    # Read once for all students: a query for each would grow with their number.
    fleet = list(Aircraft.objects.filter(in_service=True).order_by("registration"))
    # As known today: the page of the lesson compares with the day of the lesson.
    cautions = {row.aircraft.pk: row.words for row in reversed(fleet_expiries(today, CAUTION_DAYS))}
    return {
        "person": person.pk,
        "name": person.name,
        # The tablet proposes the school's own day, wherever its clock says it is.
        "zone": get_school().time_zone,
        "lessons": [_lesson_item(lesson) for lesson in lessons],
        "students": [
            _student_item(row, courses[row.pk], fleet, cautions, released=(row.pk, row.aircraft_type_id) in released)
            for row in enrolments
        ],
    }


def _lesson_item(lesson: Lesson) -> dict[str, Any]:
    return {
        "uid": str(lesson.uid),
        "url": reverse("grading:lesson", args=[lesson.uid]),
        "title": f"{lesson.enrolment.student.name}, lesson {lesson.number}",
        "about": f"{lesson.unit}. {write_day(lesson.on)}"
        + (f", {lesson.aircraft.registration}" if lesson.aircraft else ""),
        "signed": lesson.is_signed,
    }


def _student_item(
    enrolment: Enrolment, course: Course, fleet: list[Aircraft], cautions: dict[int, str], *, released: bool
) -> dict[str, Any]:
    here = course.position - 1
    around = [course.units[here + step] for step in UNIT_OFFSETS if 0 <= here + step < len(course.units)]
    units = [unit for unit in around if unit.kind != UnitKind.STAGE_CHECK]  # not flown with one's own instructor
    return {
        "uid": str(enrolment.uid),
        "name": enrolment.student.name,
        "units": [
            {
                "pk": unit.pk,
                "title": str(unit),
                "flown": unit.kind != UnitKind.GROUND,
                # As known today: the school compares again when the lesson reaches it.
                "unreleased": unit.kind == UnitKind.SOLO and not released,
                # The tablet saves this page and begins the lesson with it when there is no network.
                "url": reverse("grading:blank_lesson", args=[enrolment.uid, unit.pk]),
            }
            for unit in units
        ],
        "aircraft": [
            {"pk": row.pk, "registration": row.registration, "caution": cautions.get(row.pk, "")}
            for row in fleet
            if row.type_id == enrolment.aircraft_type_id
        ],
    }


def usual_aircraft(enrolment: Enrolment) -> Aircraft | None:
    """Return the aircraft flown last time, else the first of the type."""
    last = enrolment.lessons.exclude(aircraft=None).select_related("aircraft__type").newest_first().first()
    if last is not None and last.aircraft is not None and last.aircraft.in_service:
        return last.aircraft
    of_type = Aircraft.objects.filter(in_service=True, type=enrolment.aircraft_type_id)
    return of_type.select_related("type").order_by("registration").first()
