"""The settings of the school: who changes what, what is refused, and that every verdict is derived anew."""

from datetime import timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions.school import change_school
from grading.models import Standard, StoredVerdict
from grading.reading import verdict_cache
from lessons.models import Enrolment
from school.errors import Refusal
from school.models import Aerodrome, JournalEntry, Role, School
from tests.cast import Cast

PAGE = "/settings/"


def change_school_settings(cast: Cast, by: Any, **changes: Any) -> School:
    return change_school(changes=changes, by=by, at=cast.at())


def settings_form(client: Client) -> dict[str, Any]:
    """What the form on the page would send."""
    soup = BeautifulSoup(client.get(PAGE).text, "html.parser")
    values = {}
    for field in soup.select("main form [name]:not([disabled])"):
        chosen = field.select_one("option[selected]") if field.name == "select" else field
        values[str(field["name"])] = str(chosen["value"])  # type: ignore[index]
    return values


def test_a_change_is_journaled_with_what_stood_before(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    sent = settings_form(client) | {"name": "School of the Sea", "retention_years": "7", "paper": "Letter"}
    assert client.post(PAGE, sent).status_code == 302
    school = School.objects.get()
    assert (school.name, school.retention_years, school.paper, school.rule_set) == (
        "School of the Sea",
        7,
        "Letter",
        "us",
    )
    entry = JournalEntry.objects.get(what="settings changed")
    assert entry.before == {"name": "School of the Tests", "paper": "A4", "retention_years": 5}
    assert entry.after == {"name": "School of the Sea", "paper": "Letter", "retention_years": 7}
    client.post(PAGE, settings_form(client))
    assert JournalEntry.objects.filter(what="settings changed").count() == 1


def test_rule_set_and_countersigning_are_the_chiefs_and_the_rest_the_administrators(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    fields = settings_form(client)
    assert {"rule_set", "chief_countersigns"} & set(fields) == set()
    client.post(PAGE, fields | {"rule_set": "eu", "chief_countersigns": "no"})  # forged: disabled inputs send nothing
    assert (School.objects.get().rule_set, School.objects.get().chief_countersigns) == ("us", True)
    client.force_login(cast.amelia)
    assert set(settings_form(client)) - {"csrfmiddlewaretoken"} == {"rule_set", "chief_countersigns"}
    client.post(PAGE, {"rule_set": "eu", "chief_countersigns": "no", "name": "Another"})
    school = School.objects.get()
    assert (school.rule_set, school.chief_countersigns, school.name) == ("eu", False, "School of the Tests")
    with pytest.raises(Refusal, match="chief instructor changes them"):
        change_school_settings(cast, cast.frida, rule_set="us")
    with pytest.raises(Refusal, match="administrator can change this"):
        change_school_settings(cast, cast.amelia, retention_years=9)
    for stranger in (cast.bert, cast.dora):
        with pytest.raises(Refusal):
            change_school_settings(cast, stranger, paper="Letter")


def test_whoever_holds_both_roles_changes_everything(cast: Cast) -> None:
    cast.amelia.roles = [Role.CHIEF, Role.ADMIN]
    school = change_school_settings(cast, cast.amelia, rule_set="eu", paper="Letter")
    assert (school.rule_set, school.paper) == ("eu", "Letter")


def test_nonsense_is_refused_and_nothing_is_changed(cast: Cast, client: Client) -> None:
    bare = Aerodrome.objects.create(ident="ZZZY", name="Bare Field", elevation_ft=10)
    before = School.objects.values().get()
    for changes, why in (
        ({"retention_years": 4}, r"5 years or more: evidence of citizenship .* \(49 CFR part 1552\)"),
        ({"retention_years": 100}, "99 at most"),
        ({"tablet_hours": 0}, "1 to 168 hours"),
        ({"tablet_hours": 169}, "1 to 168 hours"),
        ({"name": " "}, "needs a name"),
        ({"paper": "A3"}, "cannot be chosen"),
        ({"speed_unit": "mph"}, "cannot be chosen"),
        ({"aerodrome": bare}, "no runway on record"),
    ):
        with pytest.raises(Refusal, match=why):
            change_school_settings(cast, cast.frida, **changes)
    client.force_login(cast.frida)
    refused = client.post(PAGE, settings_form(client) | {"retention_years": "4"})
    assert refused.status_code == 422
    assert "49 CFR part 1552" in refused.text
    assert 'value="4"' in refused.text
    assert School.objects.values().get() == before


def test_a_rule_set_without_a_standard_is_refused(cast: Cast) -> None:
    with pytest.raises(Refusal, match="No standard for first solo is in force for Europe"):
        change_school(changes={"rule_set": "eu"}, by=cast.amelia, at=cast.at(12, 20000))
    assert School.objects.get().rule_set == "us"


def test_a_changed_rule_set_makes_every_stored_verdict_stale(cast: Cast) -> None:
    enrolments = list(Enrolment.objects.for_pages().order_by("pk"))
    kept = verdict_cache.get_or_derive(enrolments, cast.today)
    assert {row.content["rule_set"] for row in StoredVerdict.objects.all()} == {"us"}
    change_school_settings(cast, cast.amelia, rule_set="eu")
    assert set(StoredVerdict.objects.values_list("stale", flat=True)) == {True}
    anew = verdict_cache.get_or_derive(enrolments, cast.today)
    assert {row.content["rule_set"] for row in StoredVerdict.objects.all()} == {"eu"}
    assert {pk: row.row["open"] for pk, row in anew.items()} != {pk: row.row["open"] for pk, row in kept.items()}
    assert verdict_cache.compare_with_derived(enrolments) == (2, [])


def test_the_board_shows_the_new_rule_set_at_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.amelia)
    client.get("/students/")
    client.post(PAGE, {"rule_set": "eu", "chief_countersigns": "yes"})
    client.get("/students/")
    standards = {row.content["standard"] for row in StoredVerdict.objects.all()}
    in_force = Standard.objects.in_force(rule_set="eu", on=cast.today + timedelta(days=0)).get()
    assert standards == {in_force.key}
