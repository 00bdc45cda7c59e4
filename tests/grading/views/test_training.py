"""An instructor who endorses for solo is told what the standard still asks for, before and after."""

from bs4 import BeautifulSoup
from django.test import Client

from tests.cast import SECRET, Cast
from tests.factories import fly_lesson


def test_what_is_open_is_named_before_and_after_an_endorsement(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=2)
    client.force_login(cast.bert)
    address = f"/students/{cast.enrolment.uid}/solo-endorsement/"
    before = BeautifulSoup(client.get(address).content, "html.parser").select(".notice li")
    assert len(before) > 5
    form = {"on": cast.today.isoformat(), "text": "Trained and safe.", "secret": SECRET}
    after = BeautifulSoup(client.post(address, form, follow=True).content, "html.parser")
    said = [" ".join(row.get_text().split()) for row in after.select('p.notice[role="status"]')]
    assert said[0].startswith("Signed: ")
    assert "Dora Example" in said[0]
    assert said[1].startswith(f"Endorsed with {len(before)} requirements open: {before[0].get_text().rstrip('.')}; ")
    assert said[1].endswith(f"; and {len(before) - 5} more.")
    # An endorsement for a type is no judgement of solo, and its page stays as it was.
    tailwheel = client.get(f"/students/{cast.enrolment.uid}/tailwheel/")
    assert BeautifulSoup(tailwheel.content, "html.parser").select(".notice li") == []
