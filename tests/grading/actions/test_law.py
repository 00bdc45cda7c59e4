"""The law that the project ships reaches schools whose standards are older, and none of it can be left out again.

14 CFR 61.31(e)(1), (f)(1), 61.87(d), eCFR text read in a copy. European: AMC1 FCL.210(b)(2).
"""

import copy
import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from grading.actions.law import with_current_law
from grading.actions.load_standards import FIXTURES
from grading.actions.standards import publish_standard
from grading.models import Standard
from tests.cast import Cast

Content = dict[str, Any]
SHIPPED: dict[str, Content] = {
    name: json.loads((FIXTURES / f"standards/{name}.json").read_text()) for name in ("us", "eu")
}
WHOLE_ITEMS = [f"61.87(d)({number})" for number in range(1, 16)]
NEW_KEYS = ("complex_endorsement", "high_performance_endorsement")


def rows_of(content: Content) -> dict[str, Content]:
    return {row["key"]: row for row in content["requirements"]}


def older_standard(rule_set: str = "us") -> Standard:
    """Return the first standard of a rule set as it was before the law of it was read again."""
    content = copy.deepcopy(SHIPPED[rule_set]) | {"key": f"{rule_set}-older"}
    rows = rows_of(content)
    if rule_set == "us":
        rows["training_received"]["values"]["items"] = WHOLE_ITEMS
        content["requirements"] = [row for row in content["requirements"] if row["key"] not in NEW_KEYS]
    else:
        rows["training_received"].update(check="training_received", values={"items": WHOLE_ITEMS, "similar_types": []})
        rows["recent_training"].update(kind="legal", source="FCL.020(a)")
        content["requirements"] = [row for row in content["requirements"] if row["key"] != "radio_and_systems"]
    # Only the owner of the tables can: the triggers refuse it to everybody else.
    Standard.objects.filter(rule_set=rule_set)._raw_delete("default")
    return Standard.objects.create(key=content["key"], rule_set=rule_set, valid_from="2025-01-01", content=content)


@pytest.fixture
def without_final(db: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE grading_standard DISABLE TRIGGER grading_standard_is_final")


def publish(cast: Cast, base: Standard, days: int = 1, **more: Any) -> Standard:
    required = {row["key"] for row in base.content["requirements"]}
    asked: dict[str, Any] = {"values": {}, "required": required, "valid_from": cast.today + timedelta(days=days)}
    return publish_standard(base=base, reason="Agreed.", by=cast.amelia, at=cast.at(), **(asked | more))


@pytest.mark.usefixtures("without_final")
def test_the_next_standard_of_an_older_school_has_the_law_of_today(cast: Cast) -> None:
    published = publish(cast, older_standard())
    shipped = [row for row in SHIPPED["us"]["requirements"] if row["kind"] == "legal"]
    assert [row for row in published.content["requirements"] if row["kind"] == "legal"] == shipped


@pytest.mark.usefixtures("without_final")
@pytest.mark.parametrize(
    "change",
    [
        lambda content: content["requirements"].remove(rows_of(content)["complex_endorsement"]),
        lambda content: rows_of(content)["high_performance_endorsement"].update(kind="school"),
        lambda content: rows_of(content)["training_received"]["values"].update(items=WHOLE_ITEMS),
        lambda content: rows_of(content)["training_received"]["values"]["items"].pop(),
        lambda content: rows_of(content)["training_received"]["values"]["items"].remove("61.87(d)(4):turns"),
        lambda content: rows_of(content)["knowledge_test"]["values"].update(topics=["rules"]),
        lambda content: rows_of(content)["medical"]["values"].update(classes=["1", "2", "3", "lapl"]),
        lambda content: rows_of(content)["medical"]["values"].update(classes=[]),
        lambda content: rows_of(content)["training_received"]["values"].update(similar_types=["t2"]),
    ],
)
def test_the_database_keeps_the_law_that_was_added(cast: Cast, change: Callable[[Content], None]) -> None:
    content = copy.deepcopy(publish(cast, older_standard()).content) | {"key": "us-looser"}
    change(content)
    with pytest.raises(IntegrityError, match="required by law"), transaction.atomic():
        Standard.objects.create(key="us-looser", rule_set="us", valid_from=cast.at(0, -9).date(), content=content)


@pytest.mark.usefixtures("without_final")
def test_a_school_that_was_stricter_than_the_law_may_come_back_to_it(cast: Cast) -> None:
    content = copy.deepcopy(older_standard().content) | {"key": "us-stricter"}
    rows_of(content)["recent_training"]["values"]["days"] = 30
    strict = Standard.objects.create(key="us-stricter", rule_set="us", valid_from="2025-02-01", content=content)
    assert rows_of(publish(cast, strict).content)["recent_training"]["values"] == {"days": 30}
    back = copy.deepcopy(content) | {"key": "us-back"}
    rows_of(back)["recent_training"]["values"]["days"] = 90
    rows = with_current_law("us", back["requirements"])
    assert Standard.objects.create(
        key="us-back", rule_set="us", valid_from="2025-03-01", content=back | {"requirements": rows}
    ).pk


@pytest.mark.usefixtures("without_final")
def test_an_older_european_school_loses_the_paragraphs_of_another_law(cast: Cast) -> None:
    published = rows_of(publish(cast, older_standard("eu")).content)
    assert "61.87" not in json.dumps(published)
    assert published["recent_training"]["kind"] == "school"
    assert published["radio_and_systems"] == rows_of(SHIPPED["eu"])["radio_and_systems"]


def test_what_the_school_named_and_what_the_file_does_not_have_stays() -> None:
    rows = copy.deepcopy(SHIPPED["us"]["requirements"])
    own = {row["key"]: row for row in rows}
    own["training_received"]["values"]["similar_types"] = ["t2"]
    own["age"]["values"]["years"] = 18
    extra = own["english"] | {"key": "older_law"}
    current = {row["key"]: row for row in with_current_law("us", [*rows, extra])}
    assert current["training_received"]["values"]["similar_types"] == ["t2"]
    assert current["age"]["values"] == {"years": 18}
    assert current["older_law"] == extra
