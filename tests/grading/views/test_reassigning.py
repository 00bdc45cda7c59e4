"""An instructor with thirty students leaves: one preview, one act, an e-mail a person, undone on the page."""

import re

import pytest
from bs4 import BeautifulSoup
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from lessons.models import Enrolment
from school.models import JournalEntry, Person
from tests.cast import Cast
from tests.factories import add_students, begin_lesson
from tests.ready_student import make_ready, sign_release

PAGE = "/students/reassign/"


def soup(page: str) -> BeautifulSoup:
    return BeautifulSoup(page, "html.parser")


def words(page: str) -> str:
    return re.sub(r"\s+", " ", soup(page).get_text(" "))


def keys(page: str) -> list[str]:
    return [str(box["value"]) for box in soup(page).select("input[name=students]") if box.has_attr("checked")]


def test_thirty_students_of_one_who_leaves_are_reassigned_and_back(cast: Cast, client: Client) -> None:
    make_ready(cast)
    sign_release(cast)
    add_students(cast, 28)
    for row in Person.objects.all():
        row.email = f"{row.username}@school.example"
        row.save(update_fields=["email"])
    begin_lesson(cast, days_ago=1, enrolment=cast.other_enrolment)
    client.force_login(cast.amelia)
    leaving = f"{PAGE}?instructor={cast.bert.pk}"
    board = soup(client.get(f"/students/?instructor={cast.bert.pk}").text)
    assert board.find("a", href=leaving, string="Reassign students")
    with CaptureQueriesContext(connection) as few:
        page = client.get(leaving).text
    assert len(keys(page)) == 30
    assert "Release for solo until" in words(page)
    assert "1 lesson to sign by Bert Example" in words(page)

    form = {"students": keys(page), "to": cast.cleo.pk, "reason": "Bert leaves the school"}
    seen = client.post(leaving, form | {"act": "preview"}, headers={"HX-Request": "true"}).text
    assert "<html" not in seen
    assert "30 students to Cleo Example" in words(seen)
    assert "has 0 students now, 30 afterwards" in words(seen)
    assert "Bert Example then has no student, and 1 lesson that only they can sign or discard." in words(seen)
    assert "1 release for solo rests on an endorsement of the instructor before" in words(seen)
    # Ticked anew without a look, it is shown and not done.
    assert client.post(leaving, form | {"act": "reassign", "seen": "another"}).status_code == 422
    # What is typed stays, where the reason lacks.
    token = soup(seen).select_one("input[name=seen]")["value"]  # type: ignore[index]
    refused = client.post(leaving, form | {"act": "reassign", "seen": token, "reason": ""})
    assert (refused.status_code, len(keys(refused.text))) == (422, 30)
    assert Enrolment.objects.filter(instructor=cast.bert).count() == 30

    mail.outbox.clear()
    done = client.post(leaving, form | {"act": "reassign", "seen": token}, follow=True)
    assert "30 students are assigned to Cleo Example from now on." in words(done.text)
    assert Enrolment.objects.filter(instructor=cast.cleo).count() == 30
    assert JournalEntry.objects.filter(what="instructor changed", person_id=cast.amelia.pk).count() == 30
    told = [address for letter in mail.outbox for address in letter.to]
    assert len(told) == len(set(told)) == 32  # thirty students, who leaves and who takes them on
    [to_new] = [letter.body for letter in mail.outbox if letter.to == ["cleo@school.example"]]
    assert to_new.count("\n- ") == 30
    assert "Bert leaves" not in "".join(letter.body for letter in mail.outbox)  # the reason is the journal's
    # The role that depended on them is free of them.
    client.force_login(cast.frida)
    assert "is the assigned instructor of" not in client.get(f"/people/{cast.bert.pk}/").text

    entry = soup(done.text).select_one("input[name=entry]")["value"]  # type: ignore[index]
    back = client.post(PAGE, {"act": "undo", "entry": entry}, follow=True)
    assert "30 students reassigned to the instructor before." in words(back.text)
    assert Enrolment.objects.filter(instructor=cast.bert).count() == 30
    again = client.post(PAGE, {"act": "undo", "entry": entry}, follow=True)
    assert "Nothing is left to undo" in words(again.text)

    add_students(cast, 10)
    with CaptureQueriesContext(connection) as many:
        assert len(keys(client.get(leaving).text)) == 40
    assert len(many) <= len(few) + 1, "one more for the acts of the last days"


def test_who_cannot_move_is_named(cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    client.force_login(cast.frida)
    page = client.get(PAGE).text
    assert keys(page) == []  # of the whole school nobody is ticked in advance
    dora = f"{cast.enrolment.uid}:{cast.bert.pk}"
    form = {"students": [dora, "nonsense", f"{cast.other_enrolment.uid}:x"], "to": cast.bert.pk, "reason": "So"}
    held = client.post(PAGE, form).text
    assert "Dora Example does not move: Bert Example is the assigned instructor already." in words(held)
    assert "Reassign 0" not in words(held)
    assert client.post(PAGE, form | {"act": "reassign", "to": "x"}).status_code == 422
    assert "is not in the journal" in words(client.post(PAGE, {"act": "undo", "entry": "7"}, follow=True).text)
    # A mail server that is away is asked once; the act stands and the page says who is to be told.
    asked: list[int] = []
    Person.objects.update(email="somebody@school.example")

    class Away:
        def __enter__(self) -> None:
            asked.append(1)
            raise ConnectionRefusedError

        def __exit__(self, *fault: object) -> None:
            pass

    monkeypatch.setattr("school.accounts.emails.get_connection", Away)
    form = {"students": dora, "to": cast.cleo.pk, "reason": "So"}
    token = soup(client.post(PAGE, form).text).select_one("input[name=seen]")["value"]  # type: ignore[index]
    done = client.post(PAGE, form | {"act": "reassign", "seen": token}, follow=True)
    assert "No e-mail reached Dora Example, Bert Example and Cleo Example" in words(done.text)
    assert "Dora Example is assigned to Cleo Example from now on." in words(done.text)
    assert asked == [1]
