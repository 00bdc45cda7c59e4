"""Publish a new standard: the school sets its own dated thresholds; legal requirements stay."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction

from grading.models import Standard
from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.json_format import BadInput, standard_from_json
from grading.rules.readiness.standard import StandardError, validate_standard
from school import journal
from school.errors import Refusal
from school.models import Person, School

# What a school may set, by the name of the value: least and most that make sense.
VALUE_BOUNDS = {
    "needed": (1, 20),
    "lessons": (1, 10),
    "circuits": (1, 100),
    "clean": (1, 20),
    "days": (1, 90),
    "percent": (50, 99),
    "least": (3, 30),
}
VALUE_LABELS = {
    "needed": "in a row",
    "lessons": "over at least so many lessons",
    "circuits": "circuits looked at",
    "clean": "clean attempts that close a fault",
    "days": "days",
    "percent": "percent likely inside",
    "least": "numbers before a gate is judged",
}

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


def school_requirements(content: Mapping[str, Any]) -> list[tuple[dict[str, Any], list[tuple[str, int]]]]:
    """Return the school's own requirements, each with the numbers it may set."""
    return [
        (row, [(name, value) for name, value in row["values"].items() if name in VALUE_BOUNDS])
        for row in content["requirements"]
        if row["kind"] == "school"
    ]


def all_requirements(base: Standard) -> list[dict[str, Any]]:
    """Return the requirements of a standard, then the school's own of the first one that were dropped since."""
    # What a school has dropped can be required again: its full text is in the first standard, which never changes.
    first = Standard.objects.filter(rule_set=base.rule_set).order_by("pk").first() or base
    rows: list[dict[str, Any]] = list(base.content["requirements"])
    known = {row["key"] for row in rows}
    return rows + [row for row in first.content["requirements"] if row["kind"] == "school" and row["key"] not in known]


def offered_requirements(base: Standard) -> list[tuple[dict[str, Any], list[tuple[str, int]]]]:
    return school_requirements({"requirements": all_requirements(base)})


@transaction.atomic
def publish_standard(
    *,
    base: Standard,
    values: Mapping[str, Mapping[str, int]],
    required: set[str],
    valid_from: date,
    by: Person,
    at: datetime,
) -> Standard:
    """Publish the next standard of a rule set: `values` by requirement and name, `required`: those that stay.

    Refused when a number makes no sense, when nothing would change, and for a day that may have verdicts already.
    """
    School.objects.select_for_update(of=("self",)).get()  # one standard at a time
    newest = Standard.objects.filter(rule_set=base.rule_set).order_by("-valid_from").first()
    if valid_from <= at.date() or (newest and valid_from <= newest.valid_from):
        raise Refusal("Verdicts up to today have their standard: choose a day after today and after the last standard.")
    # The rest of the content, such as the policy, goes over unchanged: this page sets requirements only.
    content = dict(base.content) | {
        "key": f"{base.rule_set}-{valid_from.isoformat()}",
        "valid_from": valid_from.isoformat(),
        "requirements": [
            _updated_requirement(row, values, required) for row in all_requirements(base) if _is_retained(row, required)
        ],
    }
    if content["requirements"] == base.content["requirements"]:
        raise Refusal("Nothing differs from the standard in force.")
    try:
        # A trigger guards the legal requirements too, but its error has no sentence for the page.
        validate_standard(standard_from_json(content), CHECKS)
    except (StandardError, BadInput) as error:
        raise Refusal(str(error)) from error
    standard = Standard.objects.create(
        key=content["key"], rule_set=base.rule_set, valid_from=valid_from, content=content
    )
    after = {"valid_from": valid_from, "values": {key: dict(row) for key, row in values.items()}}
    dropped = sorted({row["key"] for row, _ in school_requirements(base.content)} - required)
    journal.record(by=by, at=at, what="standard published", subject=standard, after=after | {"dropped": dropped})
    return standard


def _is_retained(row: Mapping[str, Any], required: set[str]) -> bool:
    # Whatever was posted: a form with a box removed must not drop a requirement of the law.
    return row["kind"] == "legal" or row["key"] in required


def _updated_requirement(
    row: dict[str, Any], values: Mapping[str, Mapping[str, int]], required: set[str]
) -> dict[str, Any]:
    if row["kind"] == "legal":
        return row
    new = dict(row["values"])
    for name, value in values.get(row["key"], {}).items():
        # Not every value is a threshold: others name parts or topics, and a posted name could change what is checked.
        if name not in VALUE_BOUNDS or name not in new:
            raise Refusal(f"{row['title']}: “{name}” cannot be set.")
        least, most = VALUE_BOUNDS[name]
        if not least <= value <= most:
            raise Refusal(f"{row['title']}: {VALUE_LABELS[name]} lies between {least} and {most}, not at {value}.")
        new[name] = value
    return row | {"values": new, "title": _updated_title(row, new)}


def _updated_title(row: dict[str, Any], new: Mapping[str, Any]) -> str:
    """Return the title with its number replaced by the new one."""
    # The title names the number: left alone, page and sheet would show one threshold and the verdict apply another.
    count, old = new.get("needed"), row["values"].get("needed")
    days, old_days = new.get("days"), row["values"].get("days")
    title: str = row["title"]
    if row["check"] == "in_a_row" and count != old:
        part = row["values"]["part"][0]
        return f"{count} {part}{'es' if part.endswith('ch') else 's'} in a row to standard"
    return title.replace(f"{old_days} days", f"{days} days") if days != old_days else title
