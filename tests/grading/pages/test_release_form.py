"""The form of a release stands there once it can be signed; until then what is missing stands in its place."""

import re
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup, Tag
from django.test import Client

from grading.actions import endorsements
from lessons.models import Endorsement
from tests.cast import SECRET, Cast
from tests.database_guards import guards_off
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


def decision(cast: Cast, client: Client) -> Tag:
    client.force_login(cast.amelia)
    page = client.get(f"/students/{cast.enrolment.uid}/")
    found = BeautifulSoup(page.content, "html.parser").select_one("#decision")
    assert found is not None
    return found


def words(tag: Tag) -> str:
    return re.sub(r"\s+", " ", tag.get_text()).strip()


def test_what_is_missing_stands_in_the_place_of_the_form(cast: Cast, client: Client) -> None:
    box = decision(cast, client)
    assert box.select_one("form") is None
    rows = {words(row) for row in box.select("li")}
    assert "Endorsement for solo: nobody has given one for this type Next: Bert Example" in rows
    medical = next(row for row in box.select("li a") if "medical" in str(row["href"]))
    assert words(medical.parent).endswith("Next: the administrator")  # type: ignore[arg-type]


def test_the_form_asks_for_a_password_and_nothing_that_the_endorsement_says(ready: Cast, client: Client) -> None:
    box = decision(ready, client)
    visible = [field["name"] for field in box.select("form > .field [name]")]
    assert visible == ["secret"]
    assert "“Trained.”" in words(box)
    assert "Gave" not in words(box)
    terms = words(box.select_one("dl"))  # type: ignore[arg-type]
    assert "12 kt or less" in terms
    assert "2,000 ft or more" in terms
    assert box.select_one("details[open]") is None


def test_an_endorsement_of_more_than_ninety_days_is_missing(ready: Cast, client: Client) -> None:
    """14 CFR 61.87(n): within the 90 days before the flight (eCFR text, read in a copy)."""
    for days, missing in ((90, False), (91, True)):
        with guards_off():
            Endorsement.objects.filter(kind="pre_solo_training").update(given_on=ready.today - timedelta(days=days))
        assert (decision(ready, client).select_one("form") is None) == missing


@pytest.mark.parametrize("limitations", ["", "No touch-and-go."])
def test_a_release_carries_the_words_and_limitations_of_its_endorsement(ready: Cast, limitations: str) -> None:
    endorsements.endorse_for_solo(
        enrolment=ready.enrolment, text="Safe alone.", on=ready.today, secret=SECRET, by=ready.bert, at=ready.at(13),
        limitations=limitations,
    )  # fmt: skip
    carried = sign_release(ready).endorsement
    assert carried == ("Safe alone. Limitations: No touch-and-go." if limitations else "Safe alone.")


def test_a_refused_term_opens_the_terms(ready: Cast, client: Client) -> None:
    client.force_login(ready.amelia)
    form = {
        "kind": "day", "aerodrome": ready.runway.aerodrome_id, "runways": "18", "max_wind_kt": "99",
        "max_crosswind_kt": "5", "min_visibility_sm": "5", "min_ceiling_ft": "2000", "valid_from": str(ready.today),
        "valid_until": str(ready.today), "endorsed_by": ready.bert.pk, "reason": "", "secret": SECRET,
    }  # fmt: skip
    page = BeautifulSoup(client.post(f"/students/{ready.enrolment.uid}/release/", form).content, "html.parser")
    opened = page.select_one("#decision details[open]")
    assert opened is not None
    assert "60" in words(opened)
