"""List training that depends on a person's role: an enrolment, lessons that only they can sign, students."""

from collections.abc import Collection, Iterator

from lessons.models import Enrolment, Lesson
from school.formats import write_day
from school.models import Person, Role

MAX_NAMED = 3  # further students are only counted


# Receives a signal, which brings arguments of its own: `more` takes them.
def list_training_dependencies(person: Person, roles: Collection[str], **more: object) -> list[str]:
    sentences: list[str] = []
    if Role.STUDENT in roles:
        sentences += _student_dependencies(person)
    if Role.INSTRUCTOR in roles:
        sentences += _instructor_dependencies(person)
    return sentences


def _student_dependencies(person: Person) -> Iterator[str]:
    for enrolment in Enrolment.objects.filter(student=person, ended_on=None).select_related("syllabus").order_by("pk"):
        yield f"{person} is enrolled in {enrolment.syllabus}: record the end of training first."


def _instructor_dependencies(person: Person) -> Iterator[str]:
    # Nobody else can sign them: without the role they would stay unsigned for ever.
    lessons = Lesson.objects.unsigned().filter(instructor=person).select_related("enrolment__student")
    if names := [f"{row.enrolment.student} on {write_day(row.on)}" for row in lessons.order_by("on", "pk")]:
        yield f"Not signed yet: lessons of {_join_names(names)}. Only {person} can sign or discard them."
    own = Enrolment.objects.filter(instructor=person, ended_on=None).select_related("student")
    if names := [str(row.student) for row in own.order_by("student__family_name", "student__given_name", "pk")]:
        yield (
            f"{person} is the assigned instructor of {_join_names(names)}: reassign them first, all at once under"
            " Reassign students."
        )


def _join_names(names: list[str]) -> str:
    more = len(names) - MAX_NAMED
    return ", ".join(names[:MAX_NAMED]) + (f" and {more} more" if more > 0 else "")
