"""Publish a new standard: the school sets its own dated thresholds; legal requirements stay."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from grading.actions.standard_draft import (
    StandardDraft,
    draft_content,
    draft_spec,
    school_requirements,
)
from grading.models import Standard
from grading.rules.readiness.json_format import standard_from_json
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.models import Person, School
from school.reasons import required_text

# What the page calls the limits of the policy, in the order in which it shows them.
POLICY_LABELS = {
    "long_gap_days": "days without a flight after which the next lesson is dual",
    "relapse_good_failures_percent": "percent of failures that are still at standard",
    "relapse_bad_failures_percent": "percent of failures that no longer are",
    "gate_numbers_least": "numbers before anything is said of a gate",
    "gate_numbers_most": "last numbers of a gate that count",
    "hours_to_sign": "hours to sign a lesson",
    "days_to_acknowledge": "days for the student’s signature",
    "days_to_review": "days to review wrong answers of a written test",
    "max_days_between_lessons": "days between two lessons",
}


def policy_limits(content: Mapping[str, Any]) -> list[tuple[str, int]]:
    """Return each limit of a standard's policy, as the page names it, with its number."""
    policy = standard_from_json(content).policy
    return [(label, getattr(policy, name)) for name, label in POLICY_LABELS.items()]


@transaction.atomic
def publish_standard(
    *,
    base: Standard,
    values: Mapping[str, Mapping[str, int]],
    required: set[str],
    valid_from: date,
    reason: str,
    by: Person,
    at: datetime,
    forms: Mapping[str, str] | None = None,
) -> Standard:
    """Publish the next standard of a rule set: `values` by requirement and name, `required`: those that stay.

    `forms`: the check of each requirement for a part of the circuit, where another form is chosen. `reason`: why, for
    the journal.

    Refused when a number makes no sense, when nothing would change, and for a day that may have verdicts already.
    """
    School.objects.select_for_update(of=("self",)).get()  # one standard at a time
    newest = Standard.objects.filter(rule_set=base.rule_set).order_by("-valid_from").first()
    if valid_from <= school_day(at) or (newest and valid_from <= newest.valid_from):
        raise Refusal("Verdicts up to today have their standard: choose a day after today and after the last standard.")
    draft = StandardDraft(values, frozenset(required), forms or {})
    content = draft_content(base, draft, valid_from)
    if content["requirements"] == base.content["requirements"]:
        raise Refusal("Nothing differs from the standard in force.")
    draft_spec(content)
    # After the draft itself: a reason for nothing is not asked.
    reason = required_text(reason, "Write why the standard changes: the journal keeps the reason.")
    standard = Standard.objects.create(
        key=content["key"], rule_set=base.rule_set, valid_from=valid_from, content=content
    )
    after = {"reason": reason, "valid_from": valid_from, "values": {key: dict(row) for key, row in values.items()}}
    after |= {"forms": dict(forms)} if forms else {}
    dropped = sorted({row["key"] for row, _ in school_requirements(base.content)} - required)
    journal.record(by=by, at=at, what="standard published", subject=standard, after=after | {"dropped": dropped})
    return standard
