"""What the forms about one aircraft, its documents and the figures of a type accept."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from school.aircraft_documents import KINDS
from school.attachment_fields import PictureForm
from school.forms import AddAircraftForm, AircraftTypeForm, day_field
from school.models import Aircraft
from school.models.aircraft import ISSUE_FIELDS


class CorrectAircraftForm(AddAircraftForm):
    """Registration and type of an aircraft that is on record."""

    def __init__(self, *args: Any, aircraft: Aircraft, **kwargs: Any) -> None:
        self.aircraft = aircraft
        kwargs["initial"] = {"registration": aircraft.registration, "type": aircraft.type_id}
        super().__init__(*args, **kwargs)

    def clean_registration(self) -> str:
        registration = str(self.cleaned_data["registration"]).upper()
        if Aircraft.objects.filter(registration__iexact=registration).exclude(pk=self.aircraft.pk).exists():
            raise ValidationError("Another aircraft has this registration.")
        return registration


class AircraftPaperForm(PictureForm):
    """A document or an inspection of an aircraft."""

    kind = forms.ChoiceField(
        label="Document", choices=[(kind.code, kind.words[:1].upper() + kind.words[1:]) for kind in KINDS]
    )
    number = forms.CharField(label="Number on it", max_length=40, required=False)
    issued = day_field("Issued, or inspected", required=True)
    expires = day_field("Expires, if it has a last day")
    due_at_hours = forms.DecimalField(
        label="Due at (hours of the meter)",
        min_value=1,
        max_value=99999,
        max_digits=7,
        decimal_places=1,
        required=False,
        help_text="Shown with the document; the program does not compare it with the meter.",
    )

    field_order = ("kind", "number", "issued", "expires", "due_at_hours", "file", "photo")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        issued, expires = cleaned.get("issued"), cleaned.get("expires")
        if issued and expires and expires < issued:
            self.add_error("expires", "It expires before it was issued: check both dates.")
        return cleaned


class TypeIssueForm(AircraftTypeForm):
    """The figures of a type that a new issue may change, with where they come from."""

    reason = forms.CharField(
        label="Where the new figures come from",
        max_length=200,
        help_text="For example a revision of the flight manual, or another engine.",
    )
    field_order = (*ISSUE_FIELDS, "reason")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in set(self.fields) - {*ISSUE_FIELDS, "reason"}:
            del self.fields[name]
