"""The form of the next standard: each of the school's own requirements with its numbers and, for a part, its form."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from grading.actions.standard_draft import (
    CHOICE_WORDS,
    PART_FORMS,
    VALUE_BOUNDS,
    VALUE_LABELS,
    StandardDraft,
    all_requirements,
    school_requirements,
    settable_values,
)
from grading.models import Standard
from lessons.fields import is_plausible_date
from school.errors import Refusal


@dataclass(frozen=True)
class NumberInput:
    """One number of a requirement: the name of its field, what it is called, what was typed, least and most.

    `part`: what it counts, as 'Landings'; empty for a requirement of another kind. `choices`: the values in words, as
    ("1", "count"), for a number that is one of two answers.
    """

    name: str
    label: str
    value: str
    least: int
    most: int
    part: str = ""
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def words(self) -> str:
        """Return the value as it is read: the answer, or the number itself."""
        return dict(self.choices).get(self.value, self.value)


@dataclass(frozen=True)
class RequirementInputs:
    """The fields of one requirement. `form`: the chosen one of PART_FORMS, empty where there is no choice."""

    row: dict[str, Any]
    numbers: dict[str, NumberInput]
    asked: bool
    form: str

    @property
    def part(self) -> str:
        return str(self.row["values"]["part"][0]) if self.form else ""

    @property
    def own_numbers(self) -> list[NumberInput]:
        """Return the numbers of the form that is chosen."""
        return [number for name, number in self.numbers.items() if not self.form or name in PART_FORMS[self.form]]

    @property
    def plural(self) -> str:
        return _plural(self.part)


class StandardForm:
    """Read the next standard out of a posted form, or begin from the last one published.

    `posted` None: every field has the value of `base`. What was typed is shown again as it was typed.
    """

    def __init__(self, base: Standard, posted: Mapping[str, str] | None = None) -> None:
        self.base, self.posted = base, posted
        rows = school_requirements({"requirements": all_requirements(base)})
        asked = {row["key"] for row in base.content["requirements"]}
        self.rows = [self._inputs(row, row["key"] in asked) for row, _ in rows]

    @property
    def parts(self) -> list[RequirementInputs]:
        """Return the requirements whose form can be chosen: those for one part of the circuit."""
        return [inputs for inputs in self.rows if inputs.form]

    @property
    def others(self) -> list[RequirementInputs]:
        return [inputs for inputs in self.rows if not inputs.form]

    @property
    def required_rows(self) -> list[RequirementInputs]:
        return [inputs for inputs in self.rows if inputs.asked]

    def draft(self) -> StandardDraft:
        """Return what was typed. Refused where something is no whole number or no form."""
        values = {inputs.row["key"]: self._numbers(inputs) for inputs in self.rows}
        return StandardDraft(
            {key: numbers for key, numbers in values.items() if numbers},
            frozenset(inputs.row["key"] for inputs in self.rows if inputs.asked),
            {inputs.row["key"]: inputs.form for inputs in self.parts if inputs.form != inputs.row["check"]},
        )

    def valid_from(self) -> date:
        """Return the day from which the standard is in force. Refused where that is no day, or far from today."""
        try:
            valid_from = date.fromisoformat((self.posted or {}).get("valid_from", ""))
        except ValueError:
            raise Refusal("Choose the day from which it is in force.") from None
        if not is_plausible_date(valid_from):
            raise Refusal(f"{valid_from:%Y-%m-%d} is far from today: check the year from which it is in force.")
        return valid_from

    def _inputs(self, row: dict[str, Any], asked: bool) -> RequirementInputs:
        key, check = row["key"], row["check"]
        form = check if check in PART_FORMS else ""
        if self.posted is not None:
            asked = self.posted.get(f"{key}-asked") == "on"
            form = self.posted.get(f"{key}-form", form) if form else ""
        values = {name: value for name, value in settable_values(row).items() if name in VALUE_BOUNDS}
        if form:
            # Both forms are on the page, so that the other one can be chosen without a script.
            values = {name: number for numbers in PART_FORMS.values() for name, number in numbers.items()} | values
        return RequirementInputs(
            row, {name: self._number(row, name, value) for name, value in values.items()}, asked, form
        )

    def _number(self, row: dict[str, Any], name: str, value: int) -> NumberInput:
        field = f"{row['key']}-{name}"
        typed = self.posted.get(field, str(value)) if self.posted is not None else str(value)
        part = _plural(row["values"]["part"][0]).capitalize() if row["check"] in PART_FORMS else ""
        choices = tuple((str(value), words) for value, words in CHOICE_WORDS.get(name, {}).items())
        return NumberInput(field, VALUE_LABELS[name], typed, *VALUE_BOUNDS[name], part, choices)

    def _numbers(self, inputs: RequirementInputs) -> dict[str, int]:
        if inputs.form and inputs.form not in PART_FORMS:
            raise Refusal(f"{inputs.row['title']}: “{inputs.form[:40]}” is no form of this requirement.")
        names = PART_FORMS[inputs.form] if inputs.form else inputs.numbers
        return {name: self._whole_number(inputs, inputs.numbers[name]) for name in names}

    def _whole_number(self, inputs: RequirementInputs, number: NumberInput) -> int:
        typed = number.value.strip()
        # isdigit() alone accepts superscripts, which int() refuses.
        if not (typed.isascii() and typed.isdigit()) or len(typed) > 4:
            raise Refusal(f"{inputs.row['title']}: “{typed[:20]}” is not a whole number.")
        return int(typed)


def _plural(part: str) -> str:
    return part + ("es" if part.endswith("ch") else "s")
