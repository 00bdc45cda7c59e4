"""The draft of the gates asks for few fields at once: what a gate has is open, everything else is folded away."""

from bs4 import BeautifulSoup
from django.test import Client

from lessons import publishing
from lessons.views.gates import QUANTITIES
from tests.cast import Cast
from tests.lessons.gate_form import edited_form


def test_a_gate_shows_ten_fields_or_so_and_loses_none(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    address = f"/gates/{cast.type.code}/edit/"
    page = BeautifulSoup(client.get(address).text, "html.parser")
    cards = page.select("fieldset.card")
    assert len(cards) == len(publishing.current_gate_draft(cast.type, cast.today)["gates"])
    for card in cards:
        fields = card.select("input, select")
        folded = card.select("details:not([open]) input, details:not([open]) select")
        # Its distance, and four fields or five for each number that it asks for.
        numbers = len([name for name in QUANTITIES if card.select_one(f"table input[name$='{name}-value'][value!='']")])
        assert len(fields) - len(folded) <= 1 + 5 * numbers
        assert len({str(field["name"]) for field in fields}) == len(fields) >= 7 + 3 * 4
        # On a telephone the head of the table is not shown: each number has its word beside it.
        for table in card.select("table.labelled"):
            head = [cell.text for cell in table.select("thead th")][1:]
            assert all([cell["data-l"] for cell in row.select("td")] == head for row in table.select("tbody tr"))


def test_a_new_gate_and_a_wrong_one_are_open(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    address, raw = f"/gates/{cast.type.code}/edit/", publishing.current_gate_draft(cast.type, cast.today)
    raw["gates"][0]["leg"] = "nowhere"
    page = BeautifulSoup(client.post(address, edited_form(raw) | {"act": "add"}).text, "html.parser")
    opened = [card["id"] for card in page.select("fieldset.card") if card.select_one("details[open]")]
    assert opened == ["gate-1", f"gate-{len(raw['gates']) + 1}"]
