"""After the opening the staff in charge are led from step to step until somebody is enrolled."""

from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client
from django.utils import timezone

from lessons.models import Enrolment
from school import actions as school_actions
from school import places
from school.models import Aircraft, Paper, Person, School
from tests.cast import Cast
from tests.factories import opening_form


def steps(client: Client) -> dict[str, tuple[bool, str]]:
    """Each step with whether it is open and where it leads."""
    page = BeautifulSoup(client.get("/first-steps/").text, "html.parser")
    found = {}
    for line in page.select("main ol.lines > li"):
        link, title = line.select_one("a"), line.select_one("a, b")
        assert title is not None
        found[title.text] = (line.select_one(".now") is not None, str(link["href"]) if link else "")
    return found


@pytest.mark.django_db
def test_a_new_school_is_led_to_its_first_lesson(client: Client) -> None:
    assert client.post("/set-up/", opening_form()).status_code == 302
    client.force_login(Person.objects.get())
    assert client.get("/").headers["Location"] == "/first-steps/"
    home = School.objects.get().aerodrome_id
    assert steps(client) == {
        "Home aerodrome and its runways": (False, f"/aerodromes/{home}/"),
        "Aircraft and their types": (False, "/aircraft/"),
        "Gates of the Trainer 1": (True, "/gates/trainer-1/begin/"),
        "Syllabus": (False, "/syllabuses/"),
        "Instructors": (False, "/people/"),
        "Students": (True, "/records/enrol/"),
        "First lesson": (True, "/lessons/"),
    }
    for _, page in steps(client).values():
        assert client.get(page).status_code == 200
    circuit = {"kind": "tailwheel", "height_ft": "1000", "width_ft": "4500", "act": "begin"}
    assert client.post("/gates/trainer-1/begin/", circuit).status_code == 302
    assert steps(client)["Gates of the Trainer 1"] == (True, "/gates/trainer-1/edit/")
    Aircraft.objects.update(in_service=False)
    record = Paper.objects.get()
    school_actions.void_paper(paper=record, reason="Typed twice.", by=record.person, at=timezone.now())
    assert "Gates of the Trainer 1" not in steps(client)
    assert steps(client)["Aircraft and their types"][0]
    assert steps(client)["Instructors"][0]


def test_each_is_led_to_what_is_theirs(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    found = steps(client)
    assert found[f"Gates of the {cast.type.name}"] == (False, "")
    assert found["Students"] == (False, "/records/enrol/")
    assert found["First lesson"] == (True, "")
    assert "Done by the instructor." in client.get("/first-steps/").text
    client.force_login(cast.amelia)
    found = steps(client)
    assert found["Students"] == (False, "")
    assert found[f"Gates of the {cast.type.name}"] == (False, f"/gates/{cast.type.code}/")
    # Once somebody is enrolled, the first page is the one of the daily work.
    assert client.get("/").headers["Location"] != "/first-steps/"


def test_the_number_of_queries_does_not_grow_with_the_fleet(
    cast: Cast, client: Client, django_assert_num_queries: Any
) -> None:
    fields = {name: getattr(cast.type, name) for name in places.ALL_TYPE_FIELDS}
    for number in range(5):
        one = places.add_type(**fields | {"name": f"Quillon {number}"}, by=cast.frida, at=cast.at(9))
        Aircraft.objects.create(registration=f"QQ-Y{number}", type=one)
    client.force_login(cast.amelia)
    assert Enrolment.objects.exists()
    with django_assert_num_queries(10):
        client.get("/first-steps/")
