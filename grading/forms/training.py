import uuid as uuids
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator

from grading.actions.endorsements import latest_release_end
from grading.actions.print_runs import PRINTERS
from grading.actions.release_rules import ReleaseLimits
from grading.models import PrintRun, Release, Sheet
from grading.rules.release_words import runway_words
from lessons.fields import DayField
from lessons.models import Enrolment, Syllabus
from school.attachment_fields import PictureForm
from school.attachments import CHOOSE_AGAIN
from school.citations import cite, follows_us_rules
from school.current import get_school
from school.errors import Refusal
from school.formats import write_day, write_number
from school.journal_words import act_in_words
from school.models import Aerodrome, AircraftType, Paper, Person, Role, Runway, School

MAX_TEXT_LENGTH = 4000  # characters of a text that stands on a sheet
SOLO_ENDORSEMENT_WORDING = (
    "I gave this student the training of 14 CFR 61.87 in this make and model and found them proficient and safe to fly"
    " it solo within the limits written here."
)
OWN_SOLO_WORDING = (
    "I trained this student in this type and found them safe to fly it solo within the limits written here."
)
# A renewal takes over the limits. Dates, instructor and reason belong to each decision alone.
RENEWED_FIELDS = (
    "kind",
    "aerodrome",
    "runways",
    "max_wind_kt",
    "max_crosswind_kt",
    "min_visibility_sm",
    "min_ceiling_ft",
)
# What is signed as it is proposed, unless one opens it.
TERMS = (
    "kind",
    "aerodrome",
    "runways",
    "max_wind_kt",
    "max_crosswind_kt",
    "min_visibility_sm",
    "min_ceiling_ft",
    "endorsed_by",
    "valid_from",
    "valid_until",
)


class ReleaseForm(forms.Form):
    """Ask for limits and dates of a release and the chief's password; a renewal begins from the last release."""

    kind = forms.ChoiceField(label="Solo", choices=Release.Kind.choices)
    aerodrome = forms.ModelChoiceField(Aerodrome.objects.order_by("name"), empty_label=None)
    runways = forms.CharField(label="Runway", max_length=60)
    max_wind_kt = forms.IntegerField(label="Wind, up to (kt)", min_value=1, max_value=60, initial=12)
    max_crosswind_kt = forms.IntegerField(label="Crosswind, up to (kt)", min_value=0, max_value=40, initial=5)
    min_visibility_sm = forms.DecimalField(
        label="Visibility, at least (SM)",
        min_value=3,
        max_value=50,
        decimal_places=1,
        initial=5,
        help_text="Never below 3 SM by day.",
    )
    min_ceiling_ft = forms.IntegerField(label="Cloud base, at least (ft)", min_value=500, max_value=60000, initial=2000)
    endorsed_by = forms.ModelChoiceField(
        Person.objects.none(), label="Endorsing instructor", help_text="Writes and signs the logbook endorsement."
    )
    valid_from = DayField(label="From")
    valid_until = DayField(label="Until")
    reason = forms.CharField(
        label="Reason, where a school requirement is open",
        required=False,
        max_length=MAX_TEXT_LENGTH,
        widget=forms.Textarea,
    )
    secret = forms.CharField(
        label="Your password, to sign", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )

    def __init__(
        self,
        *args: Any,
        enrolment: Enrolment,
        on: date,
        trained_on: date | None,
        last: Release | None,
        endorsed_on: date | None = None,
        **kwargs: Any,
    ) -> None:
        """Fill the form: last training and endorsement by the instructor, and `last`, the last release."""
        self.school = get_school()
        runways = Runway.objects.filter(aerodrome=self.school.aerodrome).order_by("designator")
        kwargs["initial"] = {
            "aerodrome": self.school.aerodrome_id,
            "runways": ", ".join(runway.designator for runway in runways),
            "endorsed_by": enrolment.instructor_id,
            "valid_from": on,
            "valid_until": latest_release_end(trained_on, endorsed_on) if trained_on else on,
            "max_crosswind_kt": min(5, enrolment.aircraft_type.demonstrated_crosswind_kt),
        }
        if last is not None:
            kwargs["initial"] |= {name: getattr(last, name) for name in RENEWED_FIELDS}
            if last.withdrawn_at is None and last.valid_until >= on:  # two of a kind do not stand at one time
                kwargs["initial"]["valid_from"] = last.valid_until + timedelta(days=1)
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["min_visibility_sm"].help_text += cite("14 CFR 61.89(a)(6)")
        fields["endorsed_by"].queryset = Person.objects.active_with_role(Role.INSTRUCTOR).by_name()

    @property
    def terms(self) -> list[forms.BoundField]:
        """Return the fields of what is proposed: kind, place, limits, instructor and days."""
        return [self[name] for name in TERMS]

    @property
    def terms_refused(self) -> bool:
        """Return whether one of the proposed terms, or all of them together, was refused."""
        return any(self[name].errors for name in TERMS) or bool(self.non_field_errors())

    @property
    def proposal(self) -> list[tuple[str, str]]:
        """Return what would be signed as it stands in the fields: each in words, with its value."""
        value = {name: self[name].value() for name in TERMS}
        fields: dict[str, Any] = self.fields
        place = fields["aerodrome"].queryset.filter(pk=value["aerodrome"]).first()
        giver = fields["endorsed_by"].queryset.filter(pk=value["endorsed_by"]).first()
        return [
            ("Solo", str(dict(fields["kind"].choices).get(value["kind"], "by day, at home"))),
            ("At", f"{place or ''}, {runway_words(str(value['runways'] or ''))}"),
            ("Wind with gusts", f"{_plain(value['max_wind_kt'])} kt or less"),
            ("Crosswind", f"{_plain(value['max_crosswind_kt'])} kt or less"),
            ("Visibility", f"{_plain(value['min_visibility_sm'])} SM or more"),
            ("Cloud base", f"{_plain(value['min_ceiling_ft'])} ft or more"),
            ("Endorsed by", giver.name if giver else ""),
            ("Valid", f"{_plain(value['valid_from'])} to {_plain(value['valid_until'])}"),
        ]

    def limits(self) -> ReleaseLimits:
        names = ("aerodrome", "runways", "max_wind_kt", "max_crosswind_kt", "min_visibility_sm", "min_ceiling_ft")
        return ReleaseLimits(**{name: self.cleaned_data[name] for name in names})


def _plain(value: Any) -> str:
    """Return a day or a number as every page writes it; what was typed stays as it was typed."""
    if isinstance(value, date):
        return write_day(value)
    return write_number(value) if isinstance(value, int | Decimal) else str(value)


class EnrolForm(forms.Form):
    """Ask for a new student, with syllabus, type and instructor."""

    given_name = forms.CharField(max_length=100)
    family_name = forms.CharField(max_length=100)
    reference = forms.CharField(label="School number", max_length=20)
    username = forms.CharField(label="Login name", max_length=150, validators=[UnicodeUsernameValidator()])
    born = DayField(label="Date of birth")
    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        help_text="The invitation goes there at once. Empty: invited later, on the page of the person.",
    )
    syllabus = forms.ModelChoiceField(Syllabus.objects.order_by("title", "-issue"), empty_label=None)
    aircraft_type = forms.ModelChoiceField(AircraftType.objects.order_by("name"), empty_label=None)
    instructor = forms.ModelChoiceField(Person.objects.none(), label="Assigned instructor", empty_label=None)
    on = DayField(label="Date of enrolment")
    for_lapl = forms.BooleanField(label="Trains for a LAPL: a LAPL medical counts", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        if follows_us_rules():
            del fields["for_lapl"]
        fields["instructor"].queryset = Person.objects.active_with_role(Role.INSTRUCTOR).by_name()

    def clean_username(self) -> str:
        name: str = self.cleaned_data["username"]
        # Upper and lower case are one name, as for the unique index of the database.
        if Person.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError("This login name is taken: choose another.")
        return name

    def clean_reference(self) -> str:
        number: str = self.cleaned_data["reference"]
        if Person.objects.filter(reference=number).exists():
            raise forms.ValidationError("This school number is taken: choose another.")
        return number


class ReassignForm(forms.Form):
    """Ask for the new instructor of a student."""

    instructor = forms.ModelChoiceField(Person.objects.none(), label="New assigned instructor", empty_label="choose")

    def __init__(self, *args: Any, enrolment: Enrolment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        others = Person.objects.active_with_role(Role.INSTRUCTOR).exclude(pk=enrolment.instructor_id)
        fields["instructor"].queryset = others.by_name()


class PaperForm(PictureForm):
    """Ask for a document of a student."""

    kind = forms.ChoiceField(label="Document", choices=Paper.Kind.choices)
    number = forms.CharField(max_length=40, required=False, label="Number on it")
    medical_class = forms.ChoiceField(
        label="Class of a medical", required=False, choices=[("", "not a medical"), *Paper.MedicalClass.choices]
    )
    issued = DayField(label="Issued, or examined")
    expires = DayField(label="Expires, if a date is written on it", required=False)
    field_order = ("kind", "number", "medical_class", "issued", "expires", "file", "photo")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        medical = cleaned.get("kind") == Paper.Kind.MEDICAL
        if medical and not cleaned.get("medical_class"):
            self.add_error("medical_class", "A medical has a class: choose it.")
        # A class chosen before the kind was changed must not remain on another document.
        if not medical:
            cleaned["medical_class"] = ""
        issued, expires = cleaned.get("issued"), cleaned.get("expires")
        if issued and expires and expires < issued:
            self.add_error("expires", "It expires before it was issued: check both dates.")
        return cleaned


class EnrolPaperForm(PaperForm):
    """A document of a student who is being enrolled; left empty, it is recorded later on the page of the record."""

    def __init__(self, data: Any, files: Any, paper_kind: Paper.Kind) -> None:
        super().__init__(data, files, prefix=paper_kind.value, empty_permitted=True, use_required_attribute=False)
        self.paper_kind = paper_kind
        del self.fields["kind"]
        if paper_kind == Paper.Kind.MEDICAL:
            self.fields["medical_class"] = forms.ChoiceField(
                label="Class", choices=[("", "choose"), *Paper.MedicalClass.choices], required=False
            )
        else:
            del self.fields["medical_class"]

    def clean(self) -> dict[str, Any]:
        self.cleaned_data["kind"] = self.paper_kind.value
        return super().clean()

    @property
    def title(self) -> str:
        return str(self.paper_kind.label)


# What a student brings on the first day, as a rule; others are added in the record.
ENROLMENT_PAPERS = (Paper.Kind.MEDICAL, Paper.Kind.STUDENT_CERTIFICATE, Paper.Kind.IDENTITY)


class EnrolmentForms:
    """The student with the documents that are at hand, as one form: all of it is valid, or nothing is saved."""

    def __init__(self, data: Any = None, files: Any = None, initial: dict[str, Any] | None = None) -> None:
        self.student = EnrolForm(data, initial=initial)
        self.papers = [EnrolPaperForm(data, files, kind) for kind in ENROLMENT_PAPERS]

    def is_valid(self) -> bool:
        valid = [form.is_valid() for form in (self.student, *self.papers)]
        if all(valid):
            return True
        for form in self.papers:
            # A browser sends no file a second time by itself: whoever typed must hear of it.
            if form.cleaned_data.get("file"):
                form.add_error("file", CHOOSE_AGAIN)
        return False

    @property
    def given_papers(self) -> list[dict[str, Any]]:
        """Return what was typed of each document, without those left empty."""
        return [form.cleaned_data for form in self.papers if form.has_changed()]


class EndOfTrainingForm(forms.Form):
    """Ask when and how training ended (14 CFR 141.101(a)(3))."""

    on = DayField(label="Ended on")
    end = forms.ChoiceField(label="How", choices=Enrolment.End.choices)


class PrintSheetForm(forms.Form):
    """Ask which sheet of a student to print."""

    kind = forms.ChoiceField(choices=[(row.value, row.label) for row in (Sheet.Kind.PROGRESS, Sheet.Kind.COMPLETE)])
    paper = forms.ChoiceField(choices=School.Paper.choices)


class PrintRunForm(forms.Form):
    """Ask what to print for many, and for whom. The picked students are checkboxes of the page, not a field."""

    kind = forms.ChoiceField(label="Sheet")
    on = DayField(label="As of")
    paper = forms.ChoiceField(choices=School.Paper.choices)
    chosen = forms.ChoiceField(
        label="For whom", choices=PrintRun.Chosen.choices, widget=forms.RadioSelect, initial=PrintRun.Chosen.ACTIVE
    )
    ended_from = DayField(label="Ended from", required=False)
    ended_until = DayField(label="Ended until", required=False)

    def __init__(self, *args: Any, on: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {"on": on, "paper": get_school().paper}
        fields: dict[str, Any] = self.fields
        fields["kind"].choices = [(kind, Sheet.Kind(kind).label.capitalize()) for kind in PRINTERS]

    def picked(self, uids: list[str]) -> list[Enrolment]:
        """Return the enrolments of the ticked boxes by name, without unknown keys. One query, or none."""
        # The boxes are no field of the form, so nothing has checked them: a text that is no UUID would be an error.
        known = [uid for uid in uids if _is_uuid(uid)]
        rows = Enrolment.objects.for_pages().filter(uid__in=known)
        return list(rows.order_by("student__family_name", "student__given_name", "pk")) if known else []

    def asked(self, picked: list[Enrolment]) -> dict[str, Any]:
        """Return the arguments of the action; refuse ticked boxes that another choice ignores."""
        data = self.cleaned_data
        chosen = PrintRun.Chosen(data["chosen"])
        # Printing cannot be taken back: every sheet of a run is numbered, sealed and stored.
        if picked and chosen != PrintRun.Chosen.PICKED:
            raise Refusal("You picked students but chose others: choose the students picked, or untick them.")
        between = data["ended_from"], data["ended_until"]
        if chosen == PrintRun.Chosen.ENDED and None in between:
            raise Refusal("Choose the first and the last day on which training ended.")
        return {
            "kind": data["kind"],
            "on": data["on"],
            "paper": data["paper"],
            "chosen": chosen,
            "between": between if chosen == PrintRun.Chosen.ENDED else None,
            "picked": picked,
        }


def _is_uuid(text: str) -> bool:
    try:
        uuids.UUID(text)
    except ValueError:
        return False
    return True


class EndorsementForm(forms.Form):
    """Ask for an endorsement in the school's own wording. `us_wording` and `own_wording` begin it by rule set."""

    us_wording = ""
    own_wording = ""

    on = DayField(label="Given on")
    text = forms.CharField(
        label="Wording",
        max_length=MAX_TEXT_LENGTH,
        widget=forms.Textarea,
        help_text="The school's own text: check it against the authority's current circular.",
    )
    secret = forms.CharField(
        label="Your password, to endorse", widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("text", self.us_wording if follows_us_rules() else self.own_wording)


class TailwheelEndorsementForm(EndorsementForm):
    """Ask for the endorsement of 14 CFR 61.31(i)."""

    us_wording = "I gave the training of 14 CFR 61.31(i)(1) and found this person proficient in tailwheel aeroplanes."
    own_wording = "I trained this person in tailwheel aeroplanes and found them proficient."


class ComplexEndorsementForm(EndorsementForm):
    """Ask for the endorsement of 14 CFR 61.31(e)(1)(ii)."""

    us_wording = (
        "This person received the ground and flight training of 14 CFR 61.31(e)(1)(i) in a complex aeroplane, and I"
        " found them proficient in its operation and systems."
    )
    own_wording = "I trained this person in complex aeroplanes and found them proficient in operation and systems."


class HighPerformanceEndorsementForm(EndorsementForm):
    """Ask for the endorsement of 14 CFR 61.31(f)(1)(ii)."""

    us_wording = (
        "This person received the ground and flight training of 14 CFR 61.31(f)(1)(i) in an aeroplane of more than 200"
        " horsepower, and I found them proficient in its operation and systems."
    )
    own_wording = (
        "I trained this person in aeroplanes of more than 200 horsepower and found them proficient in operation and"
        " systems."
    )


class SoloEndorsementForm(EndorsementForm):
    """Ask for the endorsement of 14 CFR 61.87(n), with the limitations of 61.89(a)(8)."""

    us_wording = SOLO_ENDORSEMENT_WORDING
    own_wording = OWN_SOLO_WORDING

    limitations = forms.CharField(
        label="Limitations",
        required=False,
        max_length=MAX_TEXT_LENGTH,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The limits you set, such as wind, runway and visibility. They bind the student.",
    )
    field_order = ("on", "text", "limitations", "secret")


class EndorsementThereForm(EndorsementForm):
    """Ask for an endorsement that is for one aerodrome; `confirmation`: what the instructor confirms by a tick."""

    confirmation = ""

    aerodrome = forms.ModelChoiceField(Aerodrome.objects.order_by("name"), empty_label=None)
    confirmed = forms.BooleanField()
    field_order = ("aerodrome", "on", "text", "confirmed", "secret")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["confirmed"].label = self.confirmation

    def clean_confirmed(self) -> str:
        # The words and not the tick: what was confirmed is part of what is signed and sealed.
        return self.confirmation


class NightEndorsementForm(EndorsementThereForm):
    """Ask for the endorsement of 14 CFR 61.87(o)."""

    us_wording = (
        "I gave this student the night training of 14 CFR 61.87(o) in this make and model at this aerodrome within the"
        " last 90 days and found them proficient to fly it solo at night."
    )
    own_wording = "I trained this student at night at this aerodrome and found them proficient to fly solo at night."
    # No record tells navigation from a circuit at night, so the instructor says it.
    confirmation = "I gave navigation training at night in the vicinity of this aerodrome."


class NearbyEndorsementForm(EndorsementThereForm):
    """Ask for the endorsement of 14 CFR 61.93(b)(1)."""

    us_wording = (
        "I trained this student at this aerodrome, both ways, entering and leaving its pattern, takeoffs and landings"
        " (14 CFR 61.93(b)(1)), and found them proficient to practise takeoffs and landings there."
    )
    own_wording = (
        "I trained this student at this aerodrome, both ways, joining and leaving, takeoffs and landings, and found"
        " them proficient to practise takeoffs and landings there."
    )
    # Aerodromes have no coordinates on record, so nothing can compute the distance.
    confirmation = "This aerodrome lies within 25 NM of the home aerodrome."


class JournalFilterForm(forms.Form):
    """Ask which entries of the journal to show; an empty field means all, of acts all but log-ins."""

    by = forms.ChoiceField(required=False, label="Who did it")
    about = forms.CharField(required=False, max_length=60, label="About whom", help_text="name or school number")
    what = forms.ChoiceField(required=False, label="Kind of act")
    since = DayField(required=False, label="From")
    until = DayField(required=False, label="To")

    def __init__(self, *args: Any, staff: Any, acts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        people = [(str(person.pk), person.name) for person in staff]
        fields["by"].choices = [("", "Anybody"), *people, ("system", "The system")]
        named = ((act, act_in_words(act).capitalize()) for act in acts)
        fields["what"].choices = [("", "All but log-ins"), ("all", "All"), *named]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first: check both.")
        return cleaned
