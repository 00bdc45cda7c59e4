"""The chief instructor reassigns a student, reads the documents and prints; the administrator enters documents."""

from bs4 import BeautifulSoup
from django.test import Client
from django.urls import reverse

from grading.models import Sheet
from school import actions as school_actions
from school.models import JournalEntry
from tests.cast import Cast


def test_the_chief_reassigns_a_student_and_reads_it_on_readiness(client: Client, cast: Cast) -> None:
    client.force_login(cast.amelia)
    address = reverse("grading:change_instructor", args=[cast.enrolment.uid])
    readiness = reverse("grading:readiness", args=[cast.enrolment.uid])
    assert address in client.get(readiness).content.decode()
    assert client.get(address).status_code == 200
    answer = client.post(address, {"instructor": cast.cleo.pk}, follow=True)
    assert answer.redirect_chain == [(readiness, 302)]
    assert 'role="status"' in answer.content.decode()
    # As in an act of many: whom no e-mail reaches is to be told.
    assert "No e-mail reached Dora Example, Bert Example and Cleo Example" in " ".join(answer.text.split())
    cast.enrolment.refresh_from_db()
    assert cast.enrolment.instructor_id == cast.cleo.pk
    entry = JournalEntry.objects.get(what="instructor changed")
    assert (entry.person_id, entry.about_id) == (cast.amelia.pk, cast.dora.pk)


def test_the_chief_sees_the_documents_and_prints_and_the_administrator_enters(client: Client, cast: Cast) -> None:
    school_actions.record_paper(
        person=cast.dora,
        kind="medical",
        medical_class="3",
        number="M-77",
        issued=cast.today,
        by=cast.frida,
        at=cast.at(),
    )
    record = reverse("grading:student_record", args=[cast.enrolment.uid])
    forms = {}
    for who in ("amelia", "frida"):
        client.force_login(getattr(cast, who))
        assert record in client.get(reverse("grading:readiness", args=[cast.enrolment.uid])).text
        page = BeautifulSoup(client.get(record).content, "html.parser")
        assert "M-77" in page.get_text()
        forms[who] = {str(form["action"]).rstrip("/").rsplit("/", 1)[-1] for form in page.select("main form[action]")}
    assert forms["frida"] - forms["amelia"] == {"documents", "void", "data"}
    assert forms["amelia"] >= {"sheets", "instructor"}
    client.force_login(cast.amelia)
    for kind in (Sheet.Kind.PROGRESS, Sheet.Kind.COMPLETE):
        printed = client.post(f"{record}sheets/", {"kind": kind, "paper": "A4"})
        assert printed.status_code == 302
        assert client.get(printed["Location"])["Content-Type"] == "application/pdf"
    text = client.get(record).text
    assert text.count("Printed by Amelia Example") == 2
    assert "The administrator adds documents" in text
