"""An empty installation is opened once, by whoever can read the server's code, and is then usable."""

from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.core.cache import cache
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.utils import timezone

from grading.actions.opening import opening_code, reciprocal_designator
from school.models import Aircraft, AircraftType, JournalEntry, Person, Runway, School
from tests.cast import SECRET, Cast
from tests.factories import opening_form


def test_a_school_is_opened_and_its_pages_work(db: None, client: Client, capsys: Any) -> None:
    call_command("setup_code")
    assert opening_code() in capsys.readouterr().out
    assert "No school has been set up yet" in client.get("/login/").text
    assert client.get("/set-up/").status_code == 200
    assert client.post("/set-up/", opening_form()).headers["Location"] == "/login/"
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
    assert client.get("/set-up/").status_code == 404
    assert client.post("/set-up/", opening_form()).status_code == 404
    with pytest.raises(CommandError):
        call_command("setup_code")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"school__code": "guess"}, "That is not the code"),
        ({"home__designator": "37"}, "Enter a valid value"),
        ({"aircraft__stall_clean_kt": "30"}, "below the one with flap"),
        ({"person__password": "short"}, "too short"),
        ({"duties__certificate_number": ""}, "An instructor signs with a certificate"),
        ({"duties__recent_experience_until": ""}, "the end of recent experience"),
    ],
)
def test_a_wrong_answer_opens_nothing_and_keeps_what_was_typed(
    db: None, client: Client, changed: dict[str, str], said: str
) -> None:
    reply = client.post("/set-up/", opening_form(**changed))
    assert (reply.status_code, School.objects.count(), Person.objects.count()) == (422, 0, 0)
    assert said in reply.text
    assert 'value="New Field"' in reply.text


def go_on(client: Client, page: str, typed: dict[str, str], button: str = "") -> Any:
    """Fill in what the page shows and press a button, as somebody does who sees nothing of the hidden fields."""
    form = BeautifulSoup(page, "html.parser").select_one("main form")
    assert form is not None
    sent = {str(field["name"]): str(field.get("value", "")) for field in form.select("input[type=hidden]")}
    sent.pop("csrfmiddlewaretoken", None)
    shown = [str(field["name"]) for field in form.select("input:not([type=hidden]), select")]
    assert len(shown) <= 10  # no more at once
    # What is ticked or written there already is sent as well.
    sent |= {str(box["name"]): "on" for box in form.select("input[type=checkbox][checked]")}
    sent |= {name: typed[name] for name in shown if name in typed}
    return client.post("/set-up/", sent | ({button: "yes"} if button else {}))


def test_the_opening_goes_step_by_step_and_back(db: None, client: Client) -> None:
    cache.clear()
    typed, titles = opening_form(), []
    page = client.get("/set-up/")
    for _ in range(4):
        titles.append(BeautifulSoup(page.text, "html.parser").h2.text)
        page = go_on(client, page.text, typed)
        assert page.status_code == 200
        assert "required" not in "".join(
            error.text for error in BeautifulSoup(page.text, "html.parser").select(".error")
        )
    assert titles == [
        "Step 1 of 5: The school", "Step 2 of 5: The home aerodrome", "Step 3 of 5: The first aircraft",
        "Step 4 of 5: What you do at the school",
    ]  # fmt: skip
    # Back and forth: what was typed is there, and the password is in no page.
    back = go_on(client, page.text, typed, button="back")
    assert 'value="C-9"' in back.text
    assert SECRET not in back.text
    assert 'value="Nora"' in back.text
    page = go_on(client, back.text, typed)
    wrong = go_on(client, page.text, typed | {"person-password": "short"})
    assert (wrong.status_code, "too short" in wrong.text) == (422, True)
    assert go_on(client, wrong.text, typed).headers["Location"] == "/login/"
    assert (School.objects.get().name, Aircraft.objects.get().registration) == ("A New School", "QQ-NEW")
    # Only what was ticked: tailwheel of four boxes, chief instructor of two.
    kind = AircraftType.objects.get()
    assert (kind.tailwheel, kind.retractable, kind.constant_speed_propeller, kind.flaps) == (True, False, False, False)


def test_a_step_that_is_wrong_is_shown_again(db: None, client: Client) -> None:
    typed = opening_form(home__designator="37")
    page = go_on(client, client.get("/set-up/").text, typed)
    page = go_on(client, page.text, typed)
    assert page.status_code == 422
    assert "Step 2 of 5" in page.text
    assert "Enter a valid value" in page.text


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
    statuses = [client.post("/set-up/", opening_form(school__code=f"guess {turn}")).status_code for turn in range(11)]
    assert statuses == [422] * 10 + [429]
    refused = client.post("/set-up/", opening_form())
    assert "too many attempts within a minute" in refused.text
    assert 'value="New Field"' in refused.text  # nothing that was typed is lost
    assert not School.objects.exists()
    cache.clear()
    assert client.post("/set-up/", opening_form()).status_code == 302
