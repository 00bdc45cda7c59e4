"""Ask which lessons to print as lines of a logbook, and how."""

from collections.abc import Sequence
from typing import Any

from django import forms

from grading.models import LogbookForm
from grading.sheets.logbook_content import LessonRange
from lessons.models import Lesson
from school.current import get_school
from school.formats import write_day
from school.models import School


class PrintLogbookForm(forms.Form):
    """lessons: the signed ones, in order; the first and the last of them are proposed."""

    first = forms.TypedChoiceField(label="First lesson", coerce=int)
    last = forms.TypedChoiceField(label="Last lesson", coerce=int)
    form = forms.ChoiceField(label="Form", choices=[(row.value, row.label.capitalize()) for row in LogbookForm])
    paper = forms.ChoiceField(choices=School.Paper.choices)

    def __init__(self, *args: Any, lessons: Sequence[Lesson], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = {lesson.number: f"Lesson {lesson.number}, {write_day(lesson.on)}" for lesson in lessons}
        fields: dict[str, Any] = self.fields
        fields["first"].choices = fields["last"].choices = list(named.items())
        self.initial = {"paper": get_school().paper, "form": LogbookForm.STRIPS}
        if named:
            self.initial |= {"first": min(named), "last": max(named)}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "first" in data and "last" in data and data["last"] < data["first"]:
            self.add_error("last", "The last lesson is before the first: change one of them.")
        return data

    @property
    def lessons(self) -> LessonRange:
        return LessonRange(self.cleaned_data["first"], self.cleaned_data["last"])
