"""What a new school does next, in the order in which one thing rests on another, and what of it is done."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Exists, OuterRef
from django.urls import reverse

from lessons.models import Enrolment, GateDraft, GateSet, Lesson, Syllabus
from school.current import get_school
from school.formats import write_list
from school.models import Aircraft, AircraftType, Paper, Person, Role
from school.permissions import can_decide, can_manage_people, can_manage_places, can_manage_records, can_teach


@dataclass(frozen=True)
class FirstStep:
    """One step. `page`: where this person takes it, empty where it is somebody else's; `by`: then whose."""

    title: str
    words: str
    done: bool
    page: str = ""
    by: str = ""


def first_steps(person: Person) -> list[FirstStep]:
    """Return every step as this person sees it. A fixed number of queries."""
    return [
        _aerodrome(person),
        _aircraft(person),
        *_gates(person),
        _syllabus(person),
        _instructors(person),
        *_training(person),
    ]


def is_school_new() -> bool:
    """Return whether nobody is enrolled: until then these steps are the first page of the staff in charge."""
    return not Enrolment.objects.exists()


def _aerodrome(person: Person) -> FirstStep:
    home = get_school().aerodrome
    runways = [row.designator for row in home.runways.order_by("designator")]
    words = f"{home.name}: runways {write_list(runways)}." if runways else f"{home.name} has no runway yet."
    page = reverse("school:aerodrome", args=[home.pk])
    return _step("Home aerodrome and its runways", words, bool(runways), page, can_manage_places(person))


def _aircraft(person: Person) -> FirstStep:
    rows = Aircraft.objects.filter(in_service=True).order_by("registration")
    flying = list(rows.values_list("registration", flat=True))
    words = f"{write_list(flying)} in service." if flying else "No aircraft is in service yet."
    words += " Another type is added there too, from its flight manual."
    return _step("Aircraft and their types", words, bool(flying), reverse("school:aircraft"), can_manage_places(person))


def _gates(person: Person) -> Iterator[FirstStep]:
    """Yield a step for each type that is flown: its gates are published, a draft is open, or none is begun."""
    published = GateSet.objects.filter(aircraft_type=OuterRef("pk"), published=True)
    types = AircraftType.objects.filter(aircraft__in_service=True).distinct().order_by("name")
    rows = types.annotate(
        has_gates=Exists(published), has_draft=Exists(GateDraft.objects.filter(aircraft_type=OuterRef("pk")))
    )
    for row in rows:
        if row.has_gates:
            words, page = "Published.", "lessons:gate_set"
        elif row.has_draft:
            words, page = "The draft is open: replace its numbers by those of the flight manual.", "lessons:edit_gates"
        else:
            words, page = "None yet: without them no numbers are noted in lessons.", "lessons:begin_gates"
        address = reverse(page, args=[row.code])
        yield _step(f"Gates of the {row.name}", words, row.has_gates, address, can_decide(person), "chief instructor")


def _syllabus(person: Person) -> FirstStep:
    published = Syllabus.objects.filter(published_on__isnull=False).order_by("-published_on", "-pk").first()
    words = f"{published} comes with the program: read it, and change it in its next issue." if published else "None."
    return _step("Syllabus", words, published is not None, reverse("lessons:syllabuses"), True)


def _instructors(person: Person) -> FirstStep:
    """Who can sign a lesson: a signature names a certificate on record."""
    kind = Paper.Kind.INSTRUCTOR_CERTIFICATE
    certificates = Paper.objects.filter(person=OuterRef("pk"), kind=kind, voided_at=None)
    able = Person.objects.active_with_role(Role.INSTRUCTOR).filter(Exists(certificates)).count()
    words = "Nobody who teaches has a certificate on record, and a lesson is signed with one."
    if able:
        words = f"{able} with a certificate on record. Invite everybody else who teaches."
    return _step("Instructors", words, able > 0, reverse("school:people"), can_manage_people(person))


def _training(person: Person) -> Iterator[FirstStep]:
    enrolled = Enrolment.objects.count()
    words = f"{enrolled} enrolled." if enrolled else "Nobody is enrolled yet."
    yield _step("Students", words, enrolled > 0, reverse("grading:enrol_student"), can_manage_records(person))
    signed = Lesson.objects.signed().exists()
    words = "Signed." if signed else "Begun from the page of lessons, graded beside the aircraft, then signed."
    yield _step("First lesson", words, signed, reverse("grading:lessons"), can_teach(person), "instructor")


def _step(title: str, words: str, done: bool, page: str, may: bool, by: str = "administrator") -> FirstStep:
    return FirstStep(title, words, done, page if may else "", "" if may else by)
