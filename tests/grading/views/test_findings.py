"""The list of findings: kind by kind or student by student, and what is done with a reason."""

import pytest
from bs4 import BeautifulSoup
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.cast import Cast
from tests.factories import add_students, begin_lesson


def soup(reply: object) -> BeautifulSoup:
    return BeautifulSoup(reply.content, "html.parser")  # type: ignore[attr-defined]


def fields(page: BeautifulSoup, summary: str = "Done with a reason") -> dict[str, str]:
    form = next(row for row in page.select("details.settle") if summary in row.get_text()).find("form")
    assert form is not None
    return {field["name"]: field.get("value", "") for field in form.select("input")}  # type: ignore[attr-defined]


def test_findings_are_listed_by_kind_and_in_a_kind_by_person(cast: Cast, client: Client) -> None:
    for enrolment in (cast.other_enrolment, cast.enrolment, cast.other_enrolment):
        begin_lesson(cast, days_ago=5, enrolment=enrolment)
    client.force_login(cast.amelia)
    page = soup(client.get("/findings/"))
    (unsigned,) = (row for row in page.select("#findings section") if row.h2.get_text() == "Lesson not signed: 3")
    names = [cell.get_text(strip=True) for cell in unsigned.select("tbody td:first-child")]
    assert names == ["Dora Example", "Emil Example", ""]  # a name once, above all of their findings
    by_student = [head.get_text() for head in soup(client.get("/findings/?by=student")).select("#findings h2")]
    assert by_student == ["Dora Example", "Emil Example"]
    client.force_login(cast.bert)
    own = soup(client.get("/findings/"))
    assert "Lesson not signed: 3" in own.get_text()
    assert own.select(".settle") == []  # who has to correct it does not close it


def test_a_finding_is_marked_as_done_from_the_list_and_the_record(cast: Cast, client: Client) -> None:
    for days in (4, 5):
        begin_lesson(cast, days_ago=days)
    client.force_login(cast.amelia)
    asked = fields(soup(client.get("/findings/?kind=unsigned")))
    refused = client.post("/findings/done/", asked | {"reason": " "})
    assert refused.status_code == 422
    assert soup(refused).select_one("details.settle[open]")
    assert "Write why nothing is left to be done." in refused.text
    gone = client.post("/findings/done/", asked | {"facts": "0" * 64, "reason": "My words."})
    assert gone.status_code == 422
    assert "Your words: My words." in " ".join(gone.text.split())  # nothing that was typed is lost
    reply = client.post("/findings/done/", asked | {"reason": "He left."}, follow=True)
    assert reply.redirect_chain == [("/findings/?kind=unsigned", 302)]
    text = " ".join(soup(reply).get_text(" ").split())
    assert "The finding of Dora Example is marked as done." in text
    assert "Lesson not signed: 1" in text
    done = soup(client.get("/findings/?done=1"))
    assert "1 finding done with a reason" in done.get_text()
    assert "He left." in done.get_text()
    assert "He left." in client.get("/findings.csv?done=1").getvalue().decode()
    assert "He left." not in client.get("/findings.csv").getvalue().decode()
    # The administrator reads both in the record of the student, and opens it again there.
    client.force_login(cast.frida)
    record = soup(client.get(f"/records/{cast.enrolment.uid}/"))
    rows = [row.get_text() for row in record.select("#findings tbody tr") if "not signed" in row.get_text()]
    assert ["He left." in row for row in rows] == [False, True]
    form = record.select_one('#findings form[action$="/open/"]')
    assert form is not None
    back = client.post(str(form["action"]), {"back": "record=1"})
    assert back["Location"] == f"/records/{cast.enrolment.uid}/#findings"
    assert "0 " not in client.get("/findings/").text.split("Lesson not signed: ")[1][:2]
    assert "Lesson not signed: 2" in client.get("/findings/").text


@pytest.mark.parametrize("students", [1, 6])
def test_the_queries_do_not_grow(cast: Cast, client: Client, students: int) -> None:
    add_students(cast, students)
    client.force_login(cast.amelia)
    for page in ("/findings/", "/findings/?by=student"):
        client.get(page)
        with CaptureQueriesContext(connection) as asked:
            client.get(page)
        assert len(asked) == 16, "\n".join(query["sql"][:120] for query in asked.captured_queries)
