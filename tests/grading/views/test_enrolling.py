"""A student is added, enrolled and invited on one page; the first e-mail they get is the invitation."""

from datetime import timedelta
from smtplib import SMTPServerDisconnected
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core import mail
from django.test import Client

from lessons.models import Enrolment
from school.models import Invitation, JournalEntry, Person
from tests.cast import Cast
from tests.school.document_files import photograph, upload


def typed(cast: Cast, **changed: Any) -> dict[str, Any]:
    return {
        "given_name": "Zoë", "family_name": "Quill", "reference": "T-77", "username": "zoe", "born": "2000-02-29",
        "email": "Zoe@School.example", "syllabus": cast.enrolment.syllabus_id, "aircraft_type": cast.type.pk,
        "instructor": cast.bert.pk, "on": cast.today.isoformat(),
    } | changed  # fmt: skip


def test_a_student_is_enrolled_and_invited_at_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    asked = BeautifulSoup(client.get("/records/enrol/").text, "html.parser").select("main .field")
    assert len([field for field in asked if not field.find_parent("details")]) <= 10
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


def test_the_documents_at_hand_are_recorded_with_their_pictures(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    documents = {
        "medical-number": "M-1", "medical-medical_class": "3",
        "medical-issued": cast.today.isoformat(), "identity-number": "P-9",
    }  # fmt: skip
    picture = photograph()
    # The day of the second is missing: nothing is saved, what was typed stays, and the file must be chosen again.
    refused = client.post("/records/enrol/", typed(cast) | documents | {"medical-file": upload(picture)})
    page = BeautifulSoup(refused.text, "html.parser")
    assert (refused.status_code, Person.objects.filter(username="zoe").count(), len(mail.outbox)) == (422, 0, 0)
    opened = [row.summary.text for row in page.select("main details[open]")]
    assert opened == ["Medical certificate", "Proof of identity and age"]
    kept = {
        name: page.select_one(f"#id_{name}")["value"] for name in ("medical-number", "identity-number", "given_name")
    }
    assert [*kept.values()] == ["M-1", "P-9", "Zoë"]
    assert "choose the file again" in page.select_one("#id_medical-file_error").text
    late = documents | {"identity-issued": (cast.today + timedelta(days=5)).isoformat()}
    assert "does not exist yet" in client.post("/records/enrol/", typed(cast) | late).text
    assert Person.objects.filter(username="zoe").count() == 0
    good = documents | {"identity-issued": cast.today.isoformat(), "medical-photo": upload(picture)}
    done = client.post("/records/enrol/", typed(cast) | good, follow=True)
    assert "Now add the documents." in done.text  # the third is missing
    papers = Person.objects.get(username="zoe").papers.order_by("kind")
    assert [(row.kind, row.number, row.attachments.count()) for row in papers] == [
        ("identity", "P-9", 0), ("medical", "M-1", 1)
    ]  # fmt: skip
    assert len(mail.outbox) == 1
