"""Readiness answers in the order of the question: verdict, what is open or the proof, decision, evidence, records."""

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from tests.cast import Cast
from tests.factories import fly_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state

EVIDENCE = ["circuits", "gates", "strength", "progress", "training", "tests", "endorsements", "releases", "lessons"]


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


def page_of(client: Client, cast: Cast, who: str = "amelia") -> BeautifulSoup:
    client.force_login(getattr(cast, who))
    return BeautifulSoup(client.get(f"/students/{cast.enrolment.uid}/").content, "html.parser")


def parts(page: BeautifulSoup) -> list[str]:
    return [str(part["id"]) for part in page.select(".desk > div > [id]")]


def test_the_proof_of_one_who_is_ready_comes_first_and_open(ready: Cast, client: Client) -> None:
    sign_release(ready)
    page = page_of(client, ready)
    assert parts(page)[: len(EVIDENCE) + 1] == ["met", *EVIDENCE]
    assert len(page.select("section#met .req")) == 21
    assert len(page.select(".contents + div + aside#decision")) == 1


def test_what_is_open_comes_first_and_what_is_met_is_folded(cast: Cast, client: Client) -> None:
    fly_lesson(cast, circuits=3, days_ago=1)
    page = page_of(client, cast)
    assert parts(page)[:4] == ["open", "next", "met", "circuits"]
    assert page.select_one("details#met[open]") is None
    # Beyond eight they are folded, none is left out.
    assert len(page.select("#open > ol > .req")) == 8
    total = len(page.select("#open .req"))
    assert f"{total} of 21 requirements" in page.h1.get_text()  # type: ignore[union-attr]


@pytest.mark.parametrize("who", ["amelia", "bert"])
def test_every_entry_of_the_contents_leads_to_its_part(ready: Cast, client: Client, who: str) -> None:
    page = page_of(client, ready, who)
    targets = [str(link["href"])[1:] for link in page.select(".contents a[href^='#']")]
    assert len(targets) >= 8
    assert [target for target in targets if page.find(id=target) is None] == []
    assert ("decision" in targets) == (who == "amelia")


def test_a_requirement_leads_to_the_circuit_it_names(ready: Cast, client: Client) -> None:
    page = page_of(client, ready)
    links = [str(link["href"]) for link in page.select("#requirement-landings_to_standard a")]
    assert links
    for link in links:
        assert "/circuits/" in link
        assert client.get(link).status_code == 200
