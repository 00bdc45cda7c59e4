"""An empty installation is opened once, by whoever can read the server's code, and is then usable."""

from typing import Any

import pytest
from django.core.cache import cache
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.utils import timezone

from grading.actions.opening import opening_code, reciprocal_designator
from school.models import Aircraft, JournalEntry, Person, Runway, School
from tests.cast import SECRET, Cast
from tests.factories import opening_form


def test_a_school_is_opened_and_its_pages_work(db: None, client: Client, capsys: Any) -> None:
    call_command("opening_code")
    assert opening_code() in capsys.readouterr().out
    assert "No school has been set up yet" in client.get("/login/").text
    assert client.get("/open/").status_code == 200
    assert client.post("/open/", opening_form()).headers["Location"] == "/login/"
    school, person = School.objects.get(), Person.objects.get()
    assert (school.aerodrome.ident, str(school.aerodrome.variation_deg)) == ("ZZZY", "-2.5")
    assert list(Runway.objects.order_by("designator").values_list("designator", "heading_magnetic")) == [
        ("07L", 70),
        ("25R", 250),
    ]
    assert sorted(person.roles) == ["admin", "chief", "instructor"]
    assert JournalEntry.objects.filter(what="school opened").count() == 1
    assert client.post("/login/", {"username": "nora", "password": SECRET}).status_code == 302
    code = Aircraft.objects.get().type.code
    for page in ("/students/", "/lessons/", "/records/", "/records/enrol/", "/standard/", "/gates/", f"/gates/{code}/",
                 f"/gates/{code}/edit/", "/syllabuses/", "/me/"):  # fmt: skip
        assert client.get(page).status_code == 200, page
    assert client.get("/open/").status_code == 404
    assert client.post("/open/", opening_form()).status_code == 404
    with pytest.raises(CommandError):
        call_command("opening_code")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"school__code": "guess"}, "That is not the code"),
        ({"home__designator": "37"}, "Enter a valid value"),
        ({"aircraft__stall_clean_kt": "30"}, "below the one with flap"),
        ({"person__password": "short"}, "too short"),
        ({"person__certificate_number": ""}, "Who teaches signs with a certificate"),
        ({"person__recent_experience_until": ""}, "the end of recent experience"),
    ],
)
def test_a_wrong_answer_opens_nothing_and_keeps_what_was_typed(
    db: None, client: Client, changed: dict[str, str], said: str
) -> None:
    reply = client.post("/open/", opening_form(**changed))
    assert (reply.status_code, School.objects.count(), Person.objects.count()) == (422, 0, 0)
    assert said in reply.text
    assert 'value="New Field"' in reply.text


def test_a_school_in_use_shows_no_way_to_open_it(cast: Cast, client: Client) -> None:
    assert "No school has been set up yet" not in client.get("/login/").text


@pytest.mark.parametrize(("one", "other"), [("07", "25"), ("25", "07"), ("18L", "36R"), ("36C", "18C"), ("01", "19")])
def test_the_other_direction_of_a_runway(one: str, other: str) -> None:
    # ICAO Annex 14, Volume I, 5.2.2.4: whole tenth of the magnetic azimuth, letters left to right (from memory).
    assert reciprocal_designator(one) == other


def test_the_code_is_not_guessed(db: None, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    cache.clear()
    now = timezone.now()  # tries are counted by the minute: none begins in between
    monkeypatch.setattr(timezone, "now", lambda: now)
    statuses = [client.post("/open/", opening_form(school__code=f"guess {turn}")).status_code for turn in range(11)]
    assert statuses == [422] * 10 + [429]
    refused = client.post("/open/", opening_form())
    assert "tried too often within a minute" in refused.text
    assert 'value="New Field"' in refused.text  # nothing that was typed is lost
    assert not School.objects.exists()
    cache.clear()
    assert client.post("/open/", opening_form()).status_code == 302
