"""The school's own thresholds change by a dated standard; a legal one cannot be loosened, in three places.

Sources of the legal ones: 14 CFR 61.83(a) (16 years), 61.87(n) (90 days), eCFR text read in a copy.
"""

import copy
import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.test import Client

from grading.actions import decisions
from grading.actions.standard_draft import school_requirements
from grading.actions.standards import publish_standard
from grading.models import Standard, StoredVerdict
from grading.pages.board import BoardRow
from grading.reading.facts import standard_in_force
from grading.reading.inspection_facts import collect_findings
from grading.reading.student_summary import summarise_students
from grading.reading.verdict_cache import board_row_content
from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.json_format import standard_from_json
from grading.rules.readiness.standard import Policy, StandardError, validate_standard
from grading.rules.readiness.success_rules import Row, Share
from lessons.models import Enrolment
from school.current import get_school
from school.errors import Refusal
from tests.cast import Cast
from tests.factories import begin_lesson, fly_lesson


def base_standard() -> Standard:
    return Standard.objects.filter(rule_set="us").earliest("pk")


def form_inputs(standard: Standard, **typed: str) -> dict[str, str]:
    sent = {"reason": "Agreed."}
    for row, numbers in school_requirements(standard.content):
        sent[f"{row['key']}-asked"] = "on"
        sent |= {f"{row['key']}-{name}": str(value) for name, value in numbers} | {f"{row['key']}-form": row["check"]}
    return sent | typed


def test_the_chief_asks_for_more_landings_from_a_day_on(cast: Cast, client: Client) -> None:
    fly_lesson(cast, circuits=4, days_ago=1)
    client.force_login(cast.amelia)
    tomorrow = cast.today + timedelta(days=1)
    typed = {"landings_to_standard-form": "in_a_row", "landings_to_standard-needed": "9", "valid_from": str(tomorrow)}
    assert client.post("/standard/", form_inputs(base_standard(), **typed)).status_code == 302
    today = decisions.derive_verdict(cast.enrolment, cast.today)
    # Today's verdict is by today's standard.
    assert "9 of the last 10 landings to standard" in {row.title for row in today.requirements}
    later = decisions.derive_verdict(cast.enrolment, tomorrow)
    landings = next(row for row in later.unmet if row.key == "landings_to_standard")
    assert landings.title == "9 landings in a row to standard"
    assert later.standard == f"us-{tomorrow}"
    # Strip, figure and relapse follow, each part by its own rule.
    rules = summarise_students([cast.enrolment], tomorrow)[0].history.rules
    assert (rules["takeoff"], rules["landing"]) == (Share(9, 10, 2), Row(9, 2))
    assert f"us-{tomorrow} follows on" in client.get("/standard/").text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"landings_to_standard-good": "0"}, "lies between 1 and 16, not at 0"),
        ({"landings_to_standard-good": "three"}, "“three” is not a whole number"),
        ({"numbers_inside-last": "20"}, "lies between 2 and 16"),
        ({}, "Nothing differs"),
        ({"valid_from": "2020-01-01", "landings_to_standard-good": "8"}, "choose a day after today"),
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
    assert "Publish this standard" not in client.get("/standard/").text
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
        reason="Agreed.",
        by=cast.amelia,
        at=cast.at(),
    )
    legal = [row for row in base_rows() if row["kind"] == "legal"]
    assert made.content["requirements"] == legal
    with pytest.raises(Refusal, match="cannot be set"):
        publish_standard(
            base=base_standard(),
            values={"numbers_inside": {"gates": 1}},
            required={"numbers_inside"},
            valid_from=cast.today + timedelta(days=9),
            reason="Agreed.",
            by=cast.amelia,
            at=cast.at(),
        )


def standard_of_rule_set(key: str) -> Standard:
    return Standard.objects.get(key=key)


def base_rows() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = base_standard().content["requirements"]
    return rows


def test_stricter_than_the_law_is_allowed(cast: Cast) -> None:
    content = loosen(lambda content, rows: rows["age"]["values"].update(years=17))
    assert Standard.objects.create(key="us-looser", rule_set="us", valid_from=cast.today, content=content).pk


def publish_with_policy(cast: Cast, **policy: int) -> date:
    """Publish the standard with another policy, in force from tomorrow, and return that day."""
    tomorrow = cast.today + timedelta(days=1)
    content = copy.deepcopy(base_standard().content)
    content |= {"key": "us-policy", "valid_from": str(tomorrow), "policy": policy}
    Standard.objects.create(key="us-policy", rule_set="us", valid_from=tomorrow, content=content)
    return tomorrow


def test_the_limits_beside_the_requirements_are_those_of_the_standard_of_the_day(cast: Cast) -> None:
    """A lesson left unsigned for a day and more is late by 24 hours and not by 168; the board asks after 21 days."""
    enrolments = Enrolment.objects.for_pages()
    lesson = begin_lesson(cast, 8)
    on_the_third_day = cast.at(12) + timedelta(days=2)

    def kinds(whole: bool) -> set[str]:
        found = collect_findings(enrolments, on_the_third_day, whole_school=whole)
        return {row.kind for row in found if row.uid == lesson.uid}

    assert "unsigned" in kinds(whole=True) & kinds(whole=False)
    tomorrow = publish_with_policy(cast, hours_to_sign=168, long_gap_days=21)
    assert "unsigned" not in kinds(whole=True) | kinds(whole=False)
    today, later = (summarise_students([cast.enrolment], day)[0] for day in (cast.today, tomorrow))
    assert [board_row_content(row)["long_gap_days"] for row in (today, later)] == [14, 21]
    last = {"last_flown": (cast.today - timedelta(days=15)).isoformat()}
    content = board_row_content(today) | last
    rows = [StoredVerdict(enrolment=cast.enrolment, row=content | {"long_gap_days": days}) for days in (14, 15)]
    assert [BoardRow(row, False, cast.today).content.has_long_gap for row in rows] == [True, False]


def test_the_pages_say_the_limits_and_the_next_standard_carries_them(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    text = client.get("/standard/").text
    assert "Other limits of this standard" in text
    assert re.search(r"Hours to sign a lesson</td>\s*<td>24</td>", text)
    checked = client.get("/findings/").text
    assert "Each lesson signed within 24 hours of its end" in checked
    assert "hours_to_sign" not in checked
    publish_with_policy(cast, hours_to_sign=48)
    assert re.search(r"Hours to sign a lesson</td>\s*<td>48</td>", client.get("/standard/").text)
    after = cast.today + timedelta(days=9)
    base = standard_of_rule_set("us-policy")
    required = {row["key"] for row, _ in school_requirements(base.content)} - {"second_instructor"}
    publish_standard(
        base=base, values={}, required=required, valid_from=after, reason="Agreed.", by=cast.amelia, at=cast.at()
    )
    assert standard_in_force(get_school(), after).policy == Policy(hours_to_sign=48)


def test_a_standard_is_final(cast: Cast) -> None:
    for attempt in (lambda: Standard.objects.update(valid_from=cast.today), lambda: base_standard().delete()):
        with pytest.raises(DatabaseError, match="final"), transaction.atomic():
            attempt()
