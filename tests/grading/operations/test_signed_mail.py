"""The e-mail “your lesson is signed”: a link to the debrief, no grade, and no part in the signature."""

import re
import socket
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core import mail
from django.test import Client

from lessons.models import Lesson
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, record_circuit, record_entries


def sign_on_its_page(cast: Cast, client: Client) -> tuple[Lesson, Any]:
    """Bert signs a lesson of two circuits with a fault on its page; the lesson, and the page that follows."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "Much better today."})
    record_circuit(cast, lesson, 1, "practice", **{"landing.fault.floated": "on"})
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}, follow=True)
    lesson.refresh_from_db()
    return lesson, reply


@pytest.fixture
def addressed(cast: Cast) -> Cast:
    Person.objects.filter(pk=cast.dora.pk).update(email="dora@student.example")
    return cast


def test_the_student_gets_a_link_to_the_debrief_and_no_grade(addressed: Cast, client: Client, settings: Any) -> None:
    settings.PUBLIC_ADDRESS = "https://record.example/"
    lesson, _ = sign_on_its_page(addressed, client)
    (letter,) = mail.outbox
    assert letter.to == ["dora@student.example"]
    assert letter.subject.endswith(": Your lesson is signed")
    assert f"\n\nhttps://record.example/lessons/{lesson.uid}/debrief/\n\n" in letter.body
    assert f"signed lesson {lesson.number} of " in letter.body
    # Nothing of what was graded, noted or written: levels, help, faults, numbers, remarks.
    said = letter.subject + letter.body
    assert not re.search(r"perform|practice|explain|describe|prompted|assist|float|standard|circuit|better", said, re.I)
    # The link asks for a login and then leads there.
    stranger = Client()
    address = f"/lessons/{lesson.uid}/debrief/"
    assert stranger.get(address).headers["Location"] == f"/login/?next={address}"
    stranger.force_login(addressed.dora)
    assert stranger.get(address).status_code == 200


def test_a_mail_server_that_is_away_takes_no_signature_back(addressed: Cast, client: Client, settings: Any) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = free.getsockname()
    lesson, reply = sign_on_its_page(addressed, client)
    assert lesson.is_signed
    assert reply.status_code == 200
    assert "is signed and final" in reply.text
    assert "The e-mail to Dora" in reply.text
    assert "was not sent: the mail server does not answer." in reply.text


def test_nobody_is_written_to_without_an_address_or_an_account(cast: Cast, client: Client) -> None:
    lesson, reply = sign_on_its_page(cast, client)
    assert lesson.is_signed
    assert mail.outbox == []
    assert "e-mail" not in BeautifulSoup(reply.text, "html.parser").select_one("main").text  # type: ignore[union-attr]


def test_somebody_whose_access_ended_gets_no_notice(addressed: Cast, client: Client) -> None:
    Person.objects.filter(pk=addressed.dora.pk).update(is_active=False)
    lesson, _ = sign_on_its_page(addressed, client)
    assert lesson.is_signed
    assert mail.outbox == []


def test_a_refused_signature_tells_nobody(addressed: Cast, client: Client) -> None:
    lesson = begin_lesson(addressed)
    client.force_login(addressed.bert)
    assert client.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET}).status_code == 422
    assert mail.outbox == []
