"""Ask for what opens a school, in five forms, one after the other on one page."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.http import QueryDict

from grading.actions.opening import FirstAircraft, FirstPerson, HomeAerodrome
from lessons.fields import DayField
from school.accounts.passwords import PASSWORD_HELP
from school.forms import AircraftTypeForm, zone_choices
from school.models import Person, School
from school.password_text import normalise_password


def _optional_day(label: str) -> DayField:
    return DayField(label=label, required=False)


class OpenSchoolForm(forms.Form):
    title = "The school"
    code = forms.CharField(
        label="Setup code", max_length=20, help_text="Printed on the server by manage.py setup_code."
    )
    name = forms.CharField(label="Name of the school", max_length=100)
    rule_set = forms.ChoiceField(label="Rules", choices=School.RuleSet.choices)
    time_zone = forms.ChoiceField(
        label="Time zone of the school",
        choices=zone_choices,
        initial="UTC",
        help_text="Every day is a day of this zone: of a lesson, of a signature, of an expiry, and today.",
    )
    paper = forms.ChoiceField(label="Paper for printing", choices=School.Paper.choices)


class OpenAerodromeForm(forms.Form):
    title = "The home aerodrome"
    ident = forms.RegexField(
        r"^[A-Za-z0-9]{3,4}$", label="Location indicator", help_text="Three or four letters or digits."
    )
    name = forms.CharField(label="Name", max_length=60)
    elevation_ft = forms.IntegerField(label="Elevation (ft)", min_value=-1500, max_value=20000)
    variation_deg = forms.DecimalField(
        label="Magnetic variation (degrees, east positive)", min_value=-180, max_value=180, decimal_places=1
    )
    circuit_height_ft = forms.IntegerField(
        label="Circuit height above the aerodrome (ft)", min_value=300, max_value=3000, initial=1000
    )
    designator = forms.RegexField(
        r"^(0[1-9]|[12][0-9]|3[0-6])[LCRlcr]?$",
        label="Runway, one of its two directions",
        help_text="Two digits, with L, C or R where it has one. The other direction follows from it.",
    )
    length_ft = forms.IntegerField(label="Landing distance available (ft)", min_value=300, max_value=20000)

    def home(self) -> HomeAerodrome:
        return HomeAerodrome(**self.cleaned_data)


class OpenAircraftForm(AircraftTypeForm):
    title = "The first aircraft"
    registration = forms.CharField(max_length=12)
    field_order = ("name", "registration")
    # Ten fields at once are enough; seats decide nothing, and the page of the type asks for them.
    seats = None  # type: ignore[assignment] # this is how Django leaves a field out

    def aircraft(self) -> FirstAircraft:
        return FirstAircraft(**self.cleaned_data)


class OpenDutiesForm(forms.Form):
    """What the first person does beside keeping the records, and the certificate to sign with."""

    title = "What you do at the school"
    teaches = forms.BooleanField(label="I am an instructor", required=False)
    decides = forms.BooleanField(label="I am the chief instructor", required=False)
    certificate_number = forms.CharField(label="Instructor certificate, number", max_length=40, required=False)
    certificate_issued = _optional_day("Issued")
    certificate_expires = _optional_day("Expires, or")
    recent_experience_until = _optional_day("recent experience until")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        ends = cleaned.get("certificate_expires") or cleaned.get("recent_experience_until")
        # A signature names a certificate on record: without one this person could sign no lesson.
        if cleaned.get("teaches") or cleaned.get("decides"):
            if not cleaned.get("certificate_number"):
                self.add_error("certificate_number", "An instructor signs with a certificate: enter its number.")
            if not cleaned.get("certificate_issued"):
                self.add_error("certificate_issued", "Enter the day it was issued.")
            if not ends:
                self.add_error(
                    "certificate_expires",
                    "Enter the day it expires or the end of recent experience.",
                )
        return cleaned


class OpenPersonForm(forms.Form):
    """The first person. Asked for last, so that the password never waits in a page."""

    title = "You, who keep the records"
    given_name = forms.CharField(max_length=100)
    family_name = forms.CharField(max_length=100)
    reference = forms.CharField(label="School number", max_length=20)
    username = forms.CharField(label="Login name", max_length=150, validators=[UnicodeUsernameValidator()])
    email = forms.EmailField(required=False)
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=PASSWORD_HELP,
        # A blank at either end is part of a password.
        strip=False,
    )

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        # The person does not exist yet, but a password made of their own names must be refused as for everybody else.
        names = ("given_name", "family_name", "reference", "username", "email")
        validate_password(
            normalise_password(password), Person(**{name: self.cleaned_data.get(name, "") for name in names})
        )
        return password


class Opening:
    """The five forms of the opening, one shown at a time; what was typed in the others travels hidden with it."""

    def __init__(self, sent: QueryDict) -> None:
        data = sent or None
        self.school, self.home = OpenSchoolForm(data, prefix="school"), OpenAerodromeForm(data, prefix="home")
        self.aircraft = OpenAircraftForm(data, prefix="aircraft")
        self.duties, self.person = OpenDutiesForm(data, prefix="duties"), OpenPersonForm(data, prefix="person")
        self.parts: list[forms.Form] = [self.school, self.home, self.aircraft, self.duties, self.person]
        self.last = len(self.parts) - 1
        step = sent.get("step", "")
        # Sent without a step it is the whole form.
        self.step = int(step) if step in map(str, range(self.last)) else self.last

    def first_wrong(self) -> int | None:
        """Return the first part up to the one that was sent in which something is wrong."""
        return next((place for place, part in enumerate(self.parts[: self.step + 1]) if not part.is_valid()), None)

    def first_person(self) -> FirstPerson:
        return FirstPerson(**self.person.cleaned_data, **self.duties.cleaned_data)

    def show(self, place: int, *, anew: bool) -> dict[str, Any]:
        """Return what the page shows of one part; `anew`: without saying what is wrong in it, for it was not sent."""
        part = self.parts[place]
        others = [other for other in self.parts if other is not part]
        # The password is typed again where somebody went back: it is in no page.
        hidden = [field for other in others for field in other if field.name != "password"]
        return {
            "part": _begun_anew(part) if anew else part,
            "hidden": hidden if part.is_bound else [],
            "step": place,
            "number": place + 1,
            "count": len(self.parts),
        }


def _begun_anew(part: forms.Form) -> forms.Form:
    """Return a form with what was typed so far and without errors; where nothing was, with its own beginning."""
    # As its widget reads it: a box that was never ticked travels as “False”.
    typed = {name: value for name in part.fields if (value := part[name].data)}
    return type(part)(prefix=part.prefix, initial=typed)
