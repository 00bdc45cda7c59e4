"""Forms for importing files, and for the credit of earlier training."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator

from grading.exchange.handover import archive
from grading.exchange.handover.record_format import RecordFile
from grading.exchange.imports import table_reader
from grading.exchange.imports.roster import parse_school_number
from grading.models import EarlierEvidence, PendingUpload
from lessons.fields import DayField, NumberField, TotalHoursField
from lessons.models import AMOUNT_FIELDS, CreditDecision, Syllabus, Unit
from lessons.models.published_values import PublishedUnit
from school.models import AircraftType, Person, Role

NEW_PERSON = "new"


class UploadForm(forms.Form):
    kind = forms.ChoiceField(label="What is in the file", choices=PendingUpload.Kind.choices)
    file = forms.FileField(
        label="File", help_text="ZIP for a student’s record; CSV or XLSX for the others", max_length=200
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        file, kind = cleaned.get("file"), cleaned.get("kind")
        # Asked here too, so that a file that is too large is refused before it is read.
        most = archive.MAX_BYTES if kind == PendingUpload.Kind.HAND_OVER else table_reader.MAX_BYTES
        if file is not None and file.size > most:
            self.add_error("file", f"The file is larger than {most // 2**20} MB. It was not kept.")
        return cleaned


class RecordOwnerForm(forms.Form):
    """The form that asks whose record a file is, and for the enrolment to make with it."""

    whose = forms.ChoiceField(label="Whose record is it", widget=forms.RadioSelect)
    reference = forms.CharField(label="School number of a new person", max_length=20, required=False)
    username = forms.CharField(
        label="Login name of a new person",
        max_length=150,
        required=False,
        validators=[UnicodeUsernameValidator()],
        help_text="No password is made: nobody can log in with it yet.",
    )
    syllabus = forms.ModelChoiceField(
        Syllabus.objects.none(), label="Enrol now in", required=False, empty_label="not now"
    )
    aircraft_type = forms.ModelChoiceField(
        AircraftType.objects.order_by("name"), label="On the type", required=False, empty_label="not now"
    )
    instructor = forms.ModelChoiceField(
        Person.objects.none(), label="Assigned instructor", required=False, empty_label="not now"
    )
    on = DayField(label="Date of enrolment", required=False)

    def __init__(self, *args: Any, found: Sequence[tuple[Person, str]], record: RecordFile, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.people = {str(person.pk): person for person, _ in found}
        fields: dict[str, Any] = self.fields
        here = [(str(row.pk), f"{row.name}, {row.reference}, who is here: {why}") for row, why in found]
        fields["whose"].choices = [*here, (NEW_PERSON, f"{record.student.name}, a new person here")]
        fields["syllabus"].queryset = Syllabus.objects.filter(published_on__isnull=False).order_by("title", "-issue")
        fields["instructor"].queryset = Person.objects.active_with_role(Role.INSTRUCTOR).by_name()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("whose") == NEW_PERSON:
            self._new_person(cleaned)
        names = ("syllabus", "aircraft_type", "instructor")
        # Half an enrolment is a slip: enrolling with a guess, or silently not at all, would both be wrong.
        if any(cleaned.get(name) for name in names):
            for name in (*names, "on"):
                if not cleaned.get(name) and name not in self.errors:
                    self.add_error(name, "Required to enrol: fill in all four, or leave the first three at “not now”.")
        return cleaned

    def _new_person(self, cleaned: dict[str, Any]) -> None:
        for name in ("reference", "username"):
            if not cleaned.get(name) and name not in self.errors:
                self.add_error(name, "A new person needs one.")
        reference, username = cleaned.get("reference") or "", cleaned.get("username") or ""
        try:
            parse_school_number(reference)
        except ValueError as error:
            self.add_error("reference", str(error))
        if reference and Person.objects.filter(reference=reference).exists():
            self.add_error("reference", "This school number is taken: choose another.")
        # Without regard to capitals, because two login names that differ in nothing else are easily confused.
        if username and Person.objects.filter(username__iexact=username).exists():
            self.add_error("username", "This login name is taken: choose another.")

    @property
    def new_enrolment(self) -> dict[str, Any] | None:
        names = ("syllabus", "aircraft_type", "instructor", "on")
        chosen = {name: self.cleaned_data[name] for name in names}
        return chosen if chosen["syllabus"] else None


HOURS = {
    "dual_minutes": "Dual",
    "solo_minutes": "Solo",
    "night_minutes": "Night (included)",
    "instrument_minutes": "Instruments (included)",
    "ground_minutes": "Ground instruction",
}


class CreditForm(forms.Form):
    """The form that asks for a reason for each credited unit, the hours carried forward, and why."""

    def __init__(
        self, data: Any = None, *, units: Sequence[PublishedUnit], last: CreditDecision | None, credited: dict[int, str]
    ) -> None:
        super().__init__(data)
        self.units = units
        fields: dict[str, Any] = self.fields
        for unit in units:
            fields[f"unit-{unit.pk}"] = forms.CharField(
                label=f"Why {unit} counts as complete",
                required=False,
                max_length=500,
                initial=credited.get(unit.pk, ""),
            )
        for name in AMOUNT_FIELDS:
            label = HOURS.get(name, name.capitalize())
            held = getattr(last, name) if last else 0
            if name in HOURS:
                start = f"{held // 60}:{held % 60:02d}" if held else ""
                fields[name] = TotalHoursField(label=label, required=False, initial=start)
            else:
                fields[name] = NumberField(least=0, most=9999, what=f"a number of {name}")
                fields[name].label, fields[name].initial = label, held or ""
        fields["reason"] = forms.CharField(
            label="Why these hours are carried forward, or none",
            max_length=2000,
            widget=forms.Textarea,
            initial=last.reason if last else "",
        )

    @property
    def hours(self) -> list[Any]:
        return [self[name] for name in AMOUNT_FIELDS]

    def chosen(self) -> dict[Unit, str]:
        written = {unit: self.cleaned_data[f"unit-{unit.pk}"].strip() for unit in self.units}
        return {unit.to_model(): words for unit, words in written.items() if words}

    def counted(self) -> dict[str, int]:
        return {name: self.cleaned_data[name] or 0 for name in AMOUNT_FIELDS}


class EarlierEvidenceForm(forms.Form):
    """The form that asks how many of the newest earlier lessons count as evidence, and why."""

    reason = forms.CharField(
        label="Why so many, or none", max_length=2000, widget=forms.Textarea(attrs={"rows": 4})
    )  # fmt: skip

    def __init__(self, data: Any = None, *, most: int, last: EarlierEvidence | None) -> None:
        super().__init__(data)
        count = NumberField(least=0, most=most, what="a number of lessons")
        count.label, count.required = "How many of the newest count", True
        count.initial = len(last.lessons) if last else 0
        count.help_text = f"0 to {most}; 0 takes back what counted before"
        fields: dict[str, Any] = self.fields
        self.fields = {"count": count, **fields}
