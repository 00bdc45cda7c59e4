"""Work out what the next standard would say from what the school typed; nothing is written here."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from grading.actions.law import with_current_law
from grading.models import Standard
from grading.rules.readiness.checks import CHECKS
from grading.rules.readiness.json_format import BadInput, standard_from_json
from grading.rules.readiness.standard import FROM_TRACKS, StandardError, StandardSpec, validate_standard
from school.errors import Refusal

# What a school may set, by the name of the value: least and most that make sense. Of the last sixteen attempts what a
# rule lets through can still be computed while somebody waits.
VALUE_BOUNDS = {
    "good": (1, 16),
    "last": (2, 16),
    "needed": (1, 20),
    "lessons": (1, 10),
    "circuits": (1, 100),
    "clean": (1, 20),
    "days": (1, 90),
    "percent": (50, 99),
    "least": (3, 30),
    FROM_TRACKS: (0, 1),
}
VALUE_LABELS = {
    "good": "at least",
    "last": "of the last",
    "needed": "in a row",
    "lessons": "spread over at least (lessons)",
    "circuits": "circuits looked at",
    "clean": "attempts without a fault that close it",
    "days": "days",
    "percent": "percent likely inside",
    "least": "numbers before a gate is judged",
    FROM_TRACKS: "numbers from a flight track",
}
# The choices of a number that is one of two answers, in words.
CHOICE_WORDS = {FROM_TRACKS: {1: "count", 0: "do not count"}}
# Requirements about the numbers at the gates.
NUMBER_CHECKS = ("numbers_inside", "consistent")
# The two forms of a requirement for one part of the circuit: the names of its numbers, with what each begins with
# where the other form was in force.
PART_FORMS: dict[str, dict[str, int]] = {
    "most_of_last": {"good": 9, "last": 10, "lessons": 2},
    "in_a_row": {"needed": 3, "lessons": 2},
}


@dataclass(frozen=True)
class StandardDraft:
    """Hold what was typed: numbers by requirement and name, the keys that stay, and the form where one is chosen."""

    values: Mapping[str, Mapping[str, int]]
    required: frozenset[str]
    forms: Mapping[str, str] = field(default_factory=dict)


def school_requirements(content: Mapping[str, Any]) -> list[tuple[dict[str, Any], list[tuple[str, int]]]]:
    """Return the school's own requirements, each with the numbers it may set."""
    return [
        (row, [(name, value) for name, value in settable_values(row).items() if name in VALUE_BOUNDS])
        for row in content["requirements"]
        if row["kind"] == "school"
    ]


def settable_values(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the values of a requirement, with what one about numbers at the gates means where it says nothing."""
    said: dict[str, Any] = dict(row["values"])
    return said | {FROM_TRACKS: said.get(FROM_TRACKS, 1)} if row["check"] in NUMBER_CHECKS else said


def all_requirements(base: Standard) -> list[dict[str, Any]]:
    """Return the requirements of a standard, then the school's own of the first one that were dropped since."""
    # What a school has dropped can be required again: its full text is in the first standard, which never changes.
    first = Standard.objects.filter(rule_set=base.rule_set).order_by("pk").first() or base
    rows: list[dict[str, Any]] = list(base.content["requirements"])
    known = {row["key"] for row in rows}
    return rows + [row for row in first.content["requirements"] if row["kind"] == "school" and row["key"] not in known]


def draft_content(base: Standard, draft: StandardDraft, valid_from: date) -> dict[str, Any]:
    """Return the content of the next standard, unpublished. Refused where a number makes no sense."""
    # The rest of the content, such as the policy, goes over unchanged: this page sets requirements only.
    return dict(base.content) | {
        "key": f"{base.rule_set}-{valid_from.isoformat()}",
        "valid_from": valid_from.isoformat(),
        "requirements": [
            _updated_requirement(row, draft)
            for row in with_current_law(base.rule_set, all_requirements(base))
            # Whatever was posted: a form with a box removed must not drop a requirement of the law.
            if row["kind"] == "legal" or row["key"] in draft.required
        ],
    }


def draft_spec(content: Mapping[str, Any]) -> StandardSpec:
    """Return a content as the engine reads it. Refused in a sentence where the engine could not use it."""
    try:
        standard = standard_from_json(content)
        # A trigger guards the legal requirements too, but its error has no sentence for the page.
        validate_standard(standard, CHECKS)
    except (StandardError, BadInput) as error:
        raise Refusal(str(error)) from error
    for spec in standard.requirements:
        if spec.kind == "school":
            problem = next(_contradictions(spec.values), None)
            if problem is not None:
                raise Refusal(f"{spec.title}: {problem}")
    return standard


def _contradictions(values: Mapping[str, Any]) -> Iterator[str]:
    """Yield what more misses than successes would meet, and attempts that so many lessons do not have."""
    good, last, needed, lessons = (values.get(name) for name in ("good", "last", "needed", "lessons"))
    if good is not None and last is not None and 2 * good <= last:
        yield f"{good} of the last {last} is not more than half; ask for at least {last // 2 + 1}."
    counted = last if last is not None else needed
    if counted is not None and lessons is not None and lessons > counted:
        yield f"{counted} attempts cannot be spread over {lessons} lessons; ask for at most {counted}."


def _updated_requirement(row: dict[str, Any], draft: StandardDraft) -> dict[str, Any]:
    if row["kind"] == "legal":
        return row
    check = draft.forms.get(row["key"], row["check"])
    values = settable_values(row)
    if check != row["check"]:
        if row["check"] not in PART_FORMS or check not in PART_FORMS:
            raise Refusal(f"{row['title']}: “{check[:40]}” is no form of this requirement.")
        values = {"part": values["part"], **PART_FORMS[check]}
    for name, value in draft.values.get(row["key"], {}).items():
        # Not every value is a threshold: others name parts or topics, and a posted name could change what is checked.
        if name not in VALUE_BOUNDS or name not in values:
            raise Refusal(f"{row['title']}: “{name}” cannot be set.")
        least, most = VALUE_BOUNDS[name]
        if not least <= value <= most:
            raise Refusal(f"{row['title']}: “{VALUE_LABELS[name]}” lies between {least} and {most}, not at {value}.")
        values[name] = value
    if values.get(FROM_TRACKS) == 1 and FROM_TRACKS not in row["values"]:
        # An older standard means the same without saying it: what nobody changed is no change.
        del values[FROM_TRACKS]
    return row | {"check": check, "values": values, "title": _updated_title(row, check, values)}


def _updated_title(row: dict[str, Any], check: str, values: Mapping[str, Any]) -> str:
    """Return the title with its numbers replaced by the new ones."""
    # The title names the number: left alone, page and sheet would show one threshold and the verdict apply another.
    old, title = row["values"], str(row["title"])
    if check == row["check"] and values == old:
        return title
    if check in PART_FORMS:
        return part_title(check, values)
    for noun in ("days", "circuits"):
        if old.get(noun) != values.get(noun):
            title = title.replace(f"{old[noun]} {noun}", f"{values[noun]} {noun}")
    if "good" in values and "last" in values:
        title = title.replace(
            f"{old['good']} of the last {old['last']}", f"{values['good']} of the last {values['last']}"
        )
    return title


def part_title(check: str, values: Mapping[str, Any]) -> str:
    """Return '9 of the last 10 landings to standard' or '3 landings in a row to standard'."""
    part = values["part"][0]
    plural = part + ("es" if part.endswith("ch") else "s")
    if check == "most_of_last":
        return f"{values['good']} of the last {values['last']} {plural} to standard"
    return f"{values['needed']} {plural} in a row to standard"
