"""The school's own thresholds change by a dated standard; a legal one cannot be loosened, in three places.

Sources of the legal ones: 14 CFR 61.83(a) (16 years), 61.87(n) (90 days), eCFR text read in a copy.
"""

import copy
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.test import Client

from grading.actions import decisions
from grading.actions.standards import publish_standard, school_requirements
from grading.models import Standard
from grading.pages.skill_evidence import build_skill_evidence
from grading.reading.student_summary import PARTS, summarise_students
from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.standard import StandardError, validate_standard
from school.errors import Refusal
from tests.cast import Cast
from tests.grading.actions.test_decisions import make_ready


def base_standard() -> Standard:
    return Standard.objects.get(rule_set="us")


def form_inputs(standard: Standard, **typed: str) -> dict[str, str]:
    sent = {}
    for row, numbers in school_requirements(standard.content):
        sent[f"{row['key']}-asked"] = "on"
        sent |= {f"{row['key']}-{name}": str(value) for name, value in numbers}
    return sent | typed


def test_the_chief_asks_for_more_landings_from_a_day_on(cast: Cast, client: Client) -> None:
    make_ready(cast)
    client.force_login(cast.amelia)
    tomorrow = cast.today + timedelta(days=1)
    sent = form_inputs(base_standard(), **{"landings_in_a_row-needed": "9", "valid_from": str(tomorrow)})
    assert client.post("/standard/", sent).status_code == 302
    assert decisions.derive_verdict(cast.enrolment, cast.today).ready  # today's verdict is by today's standard
    later = decisions.derive_verdict(cast.enrolment, tomorrow)
    landings = next(row for row in later.unmet if row.key == "landings_in_a_row")
    assert landings.title == "9 landings in a row to standard"
    assert later.standard == f"us-{tomorrow}"
    row = summarise_students([cast.enrolment], tomorrow)[0]
    # Strip, figure, forecast and relapse follow, each part by its own number.
    assert row.history.streaks_needed == {"takeoff": 3, "approach": 3, "landing": 9}
    evidence = build_skill_evidence(row)
    assert "Until 3 takeoffs, 3 approaches and 9 landings are in a row at one time:" in evidence.forecast_words
    equal = replace(evidence, streaks_needed=dict.fromkeys(PARTS, 9))
    assert "Until takeoff, approach and landing are each 9 in a row at one time:" in equal.forecast_words
    assert f"us-{tomorrow} follows on" in client.get("/standard/").text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"landings_in_a_row-needed": "0"}, "lies between 1 and 20, not at 0"),
        ({"landings_in_a_row-needed": "three"}, "“three” is not a whole number"),
        ({"consistent-percent": "20"}, "lies between 50 and 99"),
        ({}, "Nothing differs"),
        ({"valid_from": "2020-01-01", "landings_in_a_row-needed": "4"}, "choose a day after today"),
        ({"valid_from": ""}, "Choose the day"),
    ],
)
def test_what_makes_no_sense_is_refused_and_kept(cast: Cast, client: Client, typed: dict[str, str], said: str) -> None:
    client.force_login(cast.amelia)
    sent = form_inputs(base_standard(), valid_from=str(cast.today + timedelta(days=1)), **{}) | typed
    reply = client.post("/standard/", sent)
    assert reply.status_code == 422
    assert said in reply.text
    assert Standard.objects.filter(rule_set="us").count() == 1


def test_an_instructor_reads_it_and_does_not_set_it(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    assert "Publish the next standard" not in client.get("/standard/").text
    assert client.post("/standard/", form_inputs(base_standard())).status_code == 403


def loosen(change: Any) -> dict[str, Any]:
    content = copy.deepcopy(base_standard().content)
    rows = {row["key"]: row for row in content["requirements"]}
    change(content, rows)
    return content | {"key": "us-looser"}


LOOSENINGS = [
    ("age", lambda content, rows: rows["age"]["values"].update(years=15)),
    ("days", lambda content, rows: rows["recent_training"]["values"].update(days=91)),
    ("kind", lambda content, rows: rows["medical"].update(kind="school")),
    ("check", lambda content, rows: rows["medical"].update(check="paper")),
    ("gone", lambda content, rows: content["requirements"].remove(rows["knowledge_test"])),
]


@pytest.mark.parametrize(("what", "change"), LOOSENINGS, ids=[row[0] for row in LOOSENINGS])
def test_the_database_refuses_to_loosen_the_law(cast: Cast, what: str, change: Any) -> None:
    content = loosen(change)
    with pytest.raises(IntegrityError, match="required by law"), transaction.atomic():
        Standard.objects.create(key="us-looser", rule_set="us", valid_from=cast.today, content=content)


@pytest.mark.parametrize(("what", "change"), LOOSENINGS[:2], ids=["age", "days"])
def test_the_engine_refuses_to_loosen_the_law(cast: Cast, what: str, change: Any) -> None:
    with pytest.raises(StandardError, match="the law asks for"):
        validate_standard(standard_from_json(loosen(change)), CHECKS)


def test_the_action_keeps_every_legal_row_whatever_is_asked(cast: Cast) -> None:
    made = publish_standard(
        base=base_standard(),
        values={},
        required=set(),
        valid_from=cast.today + timedelta(days=1),
        by=cast.amelia,
        at=cast.at(),
    )
    legal = [row for row in base_rows() if row["kind"] == "legal"]
    assert made.content["requirements"] == legal
    with pytest.raises(Refusal, match="cannot be set"):
        publish_standard(
            base=standard_of_rule_set("us-2025"),
            values={"consistent": {"gates": 1}},
            required={"consistent"},
            valid_from=cast.today + timedelta(days=9),
            by=cast.amelia,
            at=cast.at(),
        )


def standard_of_rule_set(key: str) -> Standard:
    return Standard.objects.get(key=key)


def base_rows() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = standard_of_rule_set("us-2025").content["requirements"]
    return rows


def test_stricter_than_the_law_is_allowed(cast: Cast) -> None:
    content = loosen(lambda content, rows: rows["age"]["values"].update(years=17))
    assert Standard.objects.create(key="us-looser", rule_set="us", valid_from=cast.today, content=content).pk


def test_a_standard_is_final(cast: Cast) -> None:
    for attempt in (lambda: Standard.objects.update(valid_from=cast.today), lambda: base_standard().delete()):
        with pytest.raises(DatabaseError, match="final"), transaction.atomic():
            attempt()
