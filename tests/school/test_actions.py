"""Documents of a person: one that does not exist yet is not saved, by the day of the school's own zone."""

from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client

from school import actions
from school.current import get_school
from school.errors import Refusal
from school.models import Paper
from tests.cast import Cast


def test_a_document_of_tomorrow_is_refused(cast: Cast) -> None:
    with pytest.raises(Refusal, match="does not exist yet"):
        actions.record_paper(
            person=cast.dora, kind="english", issued=cast.today + timedelta(days=1), by=cast.frida, at=cast.at(23)
        )
    made = actions.record_paper(person=cast.dora, kind="english", issued=cast.today, by=cast.frida, at=cast.at(0))
    assert made.issued == cast.today


def test_today_is_the_schools_own(cast: Cast) -> None:
    school = get_school()
    school.time_zone = "Pacific/Auckland"  # 12 or 13 hours ahead
    school.save(update_fields=["time_zone"])
    evening = datetime(2026, 6, 1, 20, tzinfo=UTC)
    tomorrow = evening.date() + timedelta(days=1)
    assert actions.record_paper(person=cast.dora, kind="english", issued=tomorrow, by=cast.frida, at=evening)
    with pytest.raises(Refusal, match="does not exist yet"):
        actions.record_paper(
            person=cast.dora, kind="english", issued=tomorrow + timedelta(days=1), by=cast.frida, at=evening
        )


def test_both_pages_say_so_and_keep_what_was_typed(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    future = str(cast.today + timedelta(days=40))
    before = Paper.objects.count()
    for address, sent in (
        (f"/records/{cast.enrolment.uid}/documents/", {"kind": "english", "number": "E-77", "issued": future}),
        (f"/people/{cast.bert.pk}/certificate/", {"number": "E-77", "issued": future, "expires": "2099-01-01"}),
    ):
        reply = client.post(address, sent)
        assert reply.status_code == 422
        assert "does not exist yet: check that day" in reply.text
        assert 'value="E-77"' in reply.text
    assert Paper.objects.count() == before
