"""The stored row of the board: plain values that templates draw from, derived again where it has another form."""

import json

from django.test import Client

from grading.models import StoredVerdict
from grading.reading import verdict_cache
from grading.rules.readiness.verdict import ENGINE_VERSION
from tests.cast import Cast
from tests.factories import fly_lesson


def test_no_markup_is_stored(cast: Cast) -> None:
    fly_lesson(cast, circuits=2)
    ((stored, _),) = verdict_cache.derive_and_store([cast.enrolment], cast.today)
    stored.refresh_from_db()
    assert "<" not in json.dumps(stored.row)
    assert stored.row["band"][0] == {"state": "here", "opens_stage": False}
    assert [circuit["number"] for circuit in stored.row["strip"]["circuits"]] == [1, 2]
    assert stored.row["strip"]["circuits"][0]["parts"]["landing"] == {"level": "perform", "help": "none"}


def test_a_row_of_an_older_form_is_derived_again(cast: Cast) -> None:
    """A row with HTML and SVG in it, as the version before stored it under the bare number of the engine."""
    fly_lesson(cast, circuits=2)
    verdict_cache.derive_and_store([cast.enrolment, cast.other_enrolment], cast.today)
    for old in StoredVerdict.objects.all():
        row = old.row | {"band": '<li class="here"></li>', "strip": "<svg></svg>"}
        StoredVerdict.objects.filter(pk=old.pk).update(engine=ENGINE_VERSION, row=row)
    client = Client()
    client.force_login(cast.amelia)
    page = client.get("/students/").text
    assert "No circuits flown yet" in page
    assert 'class="k">2<' in page
    assert not [row for row in StoredVerdict.objects.all() if "<" in json.dumps(row.row)]
