"""What the next standard would say: the form of each part, titles that follow, combinations that are refused."""

from datetime import timedelta
from typing import Any

import pytest

from grading.actions.standard_draft import (
    PART_FORMS,
    VALUE_BOUNDS,
    StandardDraft,
    draft_content,
    draft_spec,
    school_requirements,
)
from grading.actions.standards import publish_standard
from grading.models import Standard
from grading.rules.operating.exact import MOST_LAST
from grading.rules.readiness.success_rules import Row, Share, rule_of
from school.errors import Refusal
from tests.cast import Cast


def base_standard() -> Standard:
    return Standard.objects.filter(rule_set="us").earliest("pk")


def draft_with(forms: dict[str, str] | None = None, **values: dict[str, int]) -> StandardDraft:
    required = frozenset(row["key"] for row, _ in school_requirements(base_standard().content))
    return StandardDraft(values, required, forms or {})


def drafted_row(cast: Cast, key: str, draft: StandardDraft) -> dict[str, Any]:
    content = draft_content(base_standard(), draft, cast.today + timedelta(days=1))
    draft_spec(content)
    row: dict[str, Any] = next(row for row in content["requirements"] if row["key"] == key)
    return row


def test_the_title_follows_the_numbers_and_the_form(cast: Cast) -> None:
    share = drafted_row(cast, "landings_to_standard", draft_with(landings_to_standard={"good": 8, "last": 9}))
    assert share["title"] == "8 of the last 9 landings to standard"
    forms = {"approaches_to_standard": "in_a_row"}
    row = drafted_row(cast, "approaches_to_standard", draft_with(forms, approaches_to_standard={"needed": 4}))
    assert (row["title"], row["check"]) == ("4 approaches in a row to standard", "in_a_row")
    assert row["values"] == {"part": ["approach"], "needed": 4, "lessons": 2}
    circuits = drafted_row(cast, "no_take_over", draft_with(no_take_over={"circuits": 12}))
    assert circuits["title"].endswith("the last 12 circuits")
    gates = drafted_row(cast, "numbers_inside", draft_with(numbers_inside={"good": 7, "last": 9}))
    assert gates["title"].startswith("7 of the last 9 numbers")
    days = drafted_row(cast, "recent_circuit", draft_with(recent_circuit={"days": 10}))
    assert days["title"] == "A circuit to standard within 10 days"


def test_tracks_are_left_out_and_an_older_standard_says_nothing_of_them(cast: Cast) -> None:
    out = drafted_row(cast, "numbers_inside", draft_with(numbers_inside={"from_tracks": 0}))
    assert out["values"]["from_tracks"] == 0
    with pytest.raises(Refusal, match="“numbers from a flight track” lies between 0 and 1, not at 2"):
        drafted_row(cast, "numbers_inside", draft_with(numbers_inside={"from_tracks": 2}))
    with pytest.raises(Refusal, match="“from_tracks” cannot be set"):
        drafted_row(cast, "no_take_over", draft_with(no_take_over={"from_tracks": 0}))
    rows = [
        row | {"values": {name: value for name, value in row["values"].items() if name != "from_tracks"}}
        for row in base_standard().content["requirements"]
    ]
    older = Standard(rule_set="us", content=base_standard().content | {"requirements": rows})
    day = cast.today + timedelta(days=1)
    assert draft_content(older, draft_with(numbers_inside={"from_tracks": 1}), day)["requirements"] == rows
    changed = draft_content(older, draft_with(numbers_inside={"from_tracks": 0}), day)["requirements"]
    assert [row["key"] for row, before in zip(changed, rows, strict=True) if row != before] == ["numbers_inside"]


def test_an_untouched_draft_says_what_is_in_force(cast: Cast) -> None:
    content = draft_content(base_standard(), draft_with(), cast.today + timedelta(days=1))
    assert content["requirements"] == base_standard().content["requirements"]


def test_a_form_that_was_changed_back_is_no_change(cast: Cast) -> None:
    """Published as a row and then as a share with the old numbers, the requirement reads as it did at first."""
    by_row = publish_standard(
        base=base_standard(), values={}, required=set(draft_with().required), valid_from=cast.today + timedelta(days=1),
        reason="Agreed.", by=cast.amelia, at=cast.at(), forms={"landings_to_standard": "in_a_row"},
    )  # fmt: skip
    rows = [rule_of(spec) for spec in draft_spec(by_row.content).requirements if spec.key == "landings_to_standard"]
    assert rows == [Row(3, 2)]
    back = draft_content(by_row, draft_with({"landings_to_standard": "most_of_last"}), cast.today + timedelta(days=2))
    assert back["requirements"] == base_standard().content["requirements"]


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"good": 10, "last": 9}, "10 of the last 9 cannot be reached; ask for at most 9"),
        ({"good": 5, "last": 10}, "5 of the last 10 is not more than half; ask for at least 6"),
        ({"good": 3, "last": 4, "lessons": 5}, "4 attempts cannot be spread over 5 lessons; ask for at most 4"),
        ({"last": 17}, "“of the last” lies between 2 and 16, not at 17"),
        ({"good": 0}, "“at least” lies between 1 and 16, not at 0"),
        ({"needed": 3}, "“needed” cannot be set"),
    ],
)
def test_what_cannot_be_met_or_means_nothing_is_refused(cast: Cast, values: dict[str, int], sentence: str) -> None:
    with pytest.raises(Refusal, match=sentence):
        drafted_row(cast, "landings_to_standard", draft_with(landings_to_standard=values))


def test_a_row_over_more_lessons_than_attempts_is_refused(cast: Cast) -> None:
    draft = draft_with({"landings_to_standard": "in_a_row"}, landings_to_standard={"needed": 3, "lessons": 4})
    with pytest.raises(Refusal, match="3 attempts cannot be spread over 4 lessons"):
        drafted_row(cast, "landings_to_standard", draft)


@pytest.mark.parametrize(
    ("key", "form"), [("landings_to_standard", "paper"), ("no_take_over", "in_a_row"), ("landings_to_standard", "")]
)
def test_a_form_that_is_none_is_refused(cast: Cast, key: str, form: str) -> None:
    with pytest.raises(Refusal, match="no form of this requirement"):
        drafted_row(cast, key, draft_with({key: form}))


def test_no_rule_that_can_be_set_is_too_long_to_compute() -> None:
    assert VALUE_BOUNDS["last"][1] == MOST_LAST
    assert set(PART_FORMS) == {"most_of_last", "in_a_row"}
    assert Share(**PART_FORMS["most_of_last"]) == Share(9, 10, 2)
    assert Row(**PART_FORMS["in_a_row"]) == Row(3, 2)
