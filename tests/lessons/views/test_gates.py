"""The page of a type's gates says where they contradict figures of the type that came after them."""

from bs4 import BeautifulSoup
from django.test import Client

from school import fleet
from school.models.aircraft import ISSUE_FIELDS
from tests.cast import Cast


def test_gates_below_a_new_stall_speed_are_named(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    page = f"/gates/{cast.type.code}/"
    assert BeautifulSoup(client.get(page).text, "html.parser").select("main .errors") == []
    figures = {name: getattr(cast.type, name) for name in ISSUE_FIELDS}
    raised = figures | {"stall_landing_kt": figures["stall_landing_kt"] + 30, "stall_clean_kt": 95}
    fleet.issue_type_figures(
        aircraft_type=cast.type, figures=raised, reason="Flight manual, revision 4", by=cast.amelia, at=cast.at(9)
    )
    block = BeautifulSoup(client.get(page).text, "html.parser").select_one("main .errors")
    assert "in force, issue 2" in " ".join(block.text.split())
    assert len(block.select("li")) >= 2
    assert all("stall" in row.text for row in block.select("li"))
