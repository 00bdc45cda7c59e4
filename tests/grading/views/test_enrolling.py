"""A student is added, enrolled and invited on one page; the first e-mail they get is the invitation."""

from smtplib import SMTPServerDisconnected
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from lessons.models import Enrolment
from school.models import Invitation, JournalEntry, Person
from tests.cast import Cast


def typed(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {
        "given_name": "Zoë", "family_name": "Quill", "reference": "T-77", "username": "zoe", "born": "2000-02-29",
        "email": "Zoe@School.example", "syllabus": cast.enrolment.syllabus_id, "aircraft_type": cast.type.pk,
        "instructor": cast.bert.pk, "on": cast.today.isoformat(),
    } | changed  # fmt: skip


def test_a_student_is_enrolled_and_invited_at_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    assert client.get("/records/enrol/").text.count('<div class="field') <= 10
    page = client.post("/records/enrol/", typed(cast), follow=True)
    student = Person.objects.get(username="zoe")
    assert Enrolment.objects.filter(student=student).count() == 1
    assert student.email == "zoe@school.example"
    assert "An invitation was sent to zoe@school.example." in page.text
    (first,) = mail.outbox
    assert (first.to, "/invitation/" in first.body) == (["zoe@school.example"], True)
    assert JournalEntry.objects.get(what="invited").about_id == student.pk


def test_without_an_address_nobody_is_invited(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = client.post("/records/enrol/", typed(cast, email=""), follow=True)
    assert Enrolment.objects.filter(student__username="zoe").count() == 1
    assert "Now add the documents." in page.text
    assert "invitation" not in page.text.split('role="status"')[1].split("</p>")[0]
    assert (len(mail.outbox), Invitation.objects.count()) == (0, 0)
    assert client.post("/records/enrol/", typed(cast, email="no address")).status_code == 422


def test_a_mail_server_that_does_not_answer_costs_no_enrolment(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(self: Any) -> None:
        raise SMTPServerDisconnected

    monkeypatch.setattr("django.core.mail.EmailMessage.send", fail)
    client.force_login(cast.frida)
    page = client.post("/records/enrol/", typed(cast), follow=True)
    assert Enrolment.objects.filter(student__username="zoe").count() == 1
    assert "The invitation could not be sent: send it again on the page of the person." in page.text
    assert Invitation.objects.count() == 0
