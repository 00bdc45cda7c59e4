"""The main pages, each with who opens it, in an academy (tests/benchmarks/academy/)."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F
from django.http import HttpResponse
from django.test import Client

from grading.models import Attempt, StoredVerdict
from lessons.models import Enrolment, Lesson
from school.models import Person


@dataclass(frozen=True)
class Page:
    """`changed`: something about this student changes before each look. `tapped`: so does an entry of this lesson."""

    name: str
    who: Person
    address: str
    changed: Enrolment | None = None
    tapped: Lesson | None = None

    def look(self, client: Client) -> HttpResponse:
        if self.changed:
            StoredVerdict.objects.filter(enrolment=self.changed).update(stale=True)
        if self.tapped:
            # A row is written and nothing else, so that the look is measured and not the tap.
            attempt = Attempt.objects.filter(lesson=self.tapped, circuit__number=1, part="landing")
            attempt.update(by_closing=~F("by_closing"))
        return client.get(self.address)


def main_pages(today: date) -> list[Page]:
    """Of a student with many lessons, and of the instructor who is writing one."""
    chief, admin = Person.objects.get(username="chief"), Person.objects.get(username="admin")
    active = Enrolment.objects.active(today).annotate(flown=Count("lessons"))
    student = active.select_related("student").order_by("-flown", "pk")[0]
    signed = Lesson.objects.filter(enrolment=student).signed().newest_first()[0]
    # Of all signed lessons the one with most circuits: its pages have most to draw.
    flown = Lesson.objects.signed().annotate(many=Count("circuits")).order_by("-many", "pk")[0]
    unsigned = Lesson.objects.unsigned().select_related("instructor").annotate(many=Count("circuits"))
    writing, longest = unsigned.order_by("pk")[0], unsigned.order_by("-many", "pk")[0]
    return [
        Page("board", chief, "/students/"),
        Page("readiness of one student", chief, f"/students/{student.uid}/"),
        Page("own progress", student.student, "/me/"),
        Page("readiness, first look after a change", chief, f"/students/{student.uid}/", student),
        Page("own progress, first look after a change", student.student, "/me/", student),
        Page("lessons", writing.instructor, "/lessons/"),
        Page("lesson being written", writing.instructor, f"/lessons/{writing.uid}/"),
        Page(f"lesson being written, {longest.many} circuits", longest.instructor, f"/lessons/{longest.uid}/"),
        Page("the same, first look after a tap", longest.instructor, f"/lessons/{longest.uid}/", tapped=longest),
        Page("lesson record", chief, f"/lessons/{signed.uid}/"),
        Page("circuit as flown", chief, f"/lessons/{flown.uid}/circuits/1/"),
        Page(f"{flown.many} circuits as flown", chief, f"/lessons/{flown.uid}/circuits/"),
        Page("debrief", chief, f"/lessons/{flown.uid}/debrief/"),
        Page("records", admin, "/records/"),
        Page("student's record", admin, f"/records/{student.uid}/"),
        Page("taps of a lesson", admin, f"/lessons/{signed.uid}/taps/"),
        Page("journal", admin, "/journal/"),
        Page("own journal", student.student, "/me/journal/"),
        Page("instructor's findings", writing.instructor, "/findings/"),
    ]
