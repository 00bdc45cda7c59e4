from typing import Any

from django import forms

from school.actions import LEAST_YEARS, MOST_YEARS, OF_ADMIN, OF_CHIEF
from school.models import Aerodrome, Person, School
from school.permissions import can_decide, can_keep_records


class SchoolForm(forms.Form):
    """The settings of the school; whoever may not change one reads it."""

    name = forms.CharField(
        max_length=100, label="Name of the school", help_text="Stands at the head of every page and every sheet."
    )
    aerodrome = forms.ModelChoiceField(
        Aerodrome.objects.order_by("name"),
        label="Home aerodrome",
        empty_label=None,
        help_text="Lessons begin with its runways, and a release for solo by day is for it.",
    )
    rule_set = forms.ChoiceField(
        label="Rule set",
        choices=School.RuleSet.choices,
        help_text="Whose requirements before first solo are asked for; every student is judged anew after a change."
        " The chief instructor decides this.",
    )
    chief_countersigns = forms.TypedChoiceField(
        label="Release for solo",
        choices=[("yes", "signed by the chief instructor"), ("no", "signed by the endorsing instructor alone")],
        coerce=lambda value: value == "yes",
        help_text="The endorsement of the instructor who gave the training is needed either way"
        " (14 CFR 61.87(n)). The chief instructor decides this.",
    )
    speed_unit = forms.ChoiceField(
        label="Speeds in",
        choices=School.SpeedUnit.choices,
        help_text="Speeds at the gates are shown and typed in it; those on record keep theirs. Wind stays in knots.",
    )
    length_unit = forms.ChoiceField(
        label="Heights and distances in",
        choices=School.LengthUnit.choices,
        help_text="Heights at the gates are shown and typed in it; those on record keep theirs.",
    )
    paper = forms.ChoiceField(
        label="Paper for printing",
        choices=School.Paper.choices,
        help_text="Offered first when a sheet is printed; what was printed keeps its own.",
    )
    retention_years = forms.IntegerField(
        label="Records are kept for (years after the end of training)",
        max_value=MOST_YEARS,
        help_text=f"{LEAST_YEARS} or more; longer where a rule asks for it. Nothing is erased by itself afterwards.",
    )

    def __init__(self, *args: Any, school: School, person: Person, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(school, name) for name in (*OF_ADMIN, *OF_CHIEF)}
        kwargs["initial"] |= {"chief_countersigns": "yes" if school.chief_countersigns else "no"}
        super().__init__(*args, **kwargs)
        for name in (*OF_ADMIN, *OF_CHIEF):
            allowed = can_keep_records(person) if name in OF_ADMIN else can_decide(person)
            self.fields[name].disabled = not allowed
