"""E-mail a student that a lesson is signed, with the link to its debrief and nothing of what was graded."""

from django.conf import settings
from django.urls import reverse

from lessons.models import Lesson
from school.accounts import emails
from school.formats import write_day


def tell_student(lesson: Lesson) -> None:
    """Send the notice to a student who has an address and gets in; emails.EmailNotSent while the mail server is away.

    To be called after the signature is committed: the notice must never take it back.
    """
    student = lesson.enrolment.student
    if not student.is_active:
        return
    # An e-mail is read by others and kept elsewhere: what was graded stays behind the login.
    version = f", version {lesson.version}," if lesson.version > 1 else ""
    # From the settings and not from the request, as in an invitation.
    link = settings.PUBLIC_ADDRESS.rstrip("/") + reverse("grading:debrief", args=[lesson.uid])
    text = (
        f"{lesson.instructor.name} signed lesson {lesson.number}{version} of {write_day(lesson.on)}. Its debrief is on"
        f" this page, where you write your own view first:\n\n{link}\n\nThe page asks you to log in."
    )
    emails.send_email(student, "Your lesson is signed", text)
