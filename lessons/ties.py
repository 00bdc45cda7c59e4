"""What of the training hangs on a role of a person: an enrolment, lessons that only they can sign, own students."""

from collections.abc import Collection, Iterator

from lessons.models import Enrolment, Lesson
from school.models import Person, Role

NAMED = 3  # at most; of more the number is told


def of_training(person: Person, roles: Collection[str], **more: object) -> list[str]:
    said: list[str] = []
    if Role.STUDENT in roles:
        said += _as_student(person)
    if Role.INSTRUCTOR in roles:
        said += _as_instructor(person)
    return said


def _as_student(person: Person) -> Iterator[str]:
    for enrolment in Enrolment.objects.filter(student=person, ended_on=None).select_related("syllabus").order_by("pk"):
        yield f"{person} is enrolled in {enrolment.syllabus}: record the end of the training first."


def _as_instructor(person: Person) -> Iterator[str]:
    lessons = Lesson.objects.being_written().filter(instructor=person).select_related("enrolment__student")
    if names := [f"{row.enrolment.student} on {row.on:%d %B %Y}" for row in lessons.order_by("on", "pk")]:
        yield f"Lessons are not signed yet, of {_some(names)}: only {person} signs or discards them, and does so first."
    own = Enrolment.objects.filter(instructor=person, ended_on=None).select_related("student")
    if names := [str(row.student) for row in own.order_by("student__family_name", "student__given_name", "pk")]:
        yield (
            f"{person} is the own instructor of {_some(names)}: hand them over to another instructor first, on the"
            " record of each."
        )


def _some(names: list[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")
