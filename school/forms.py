from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError

from school.accounts.passwords import PASSWORD_HELP
from school.accounts.second_person import Confirmation
from school.actions import ADMIN_SETTINGS, CHIEF_SETTINGS, MAX_RETENTION_YEARS, MAX_TABLET_HOURS, MIN_RETENTION_YEARS
from school.attachment_fields import PictureForm
from school.days import zone_names
from school.models import Aerodrome, Aircraft, AircraftType, Person, Role, Runway, School
from school.password_text import normalise_password
from school.permissions import can_decide, can_manage_records


def zone_choices() -> list[tuple[str, str]]:
    """Return every zone that a school may choose, as a select shows it."""
    return [(name, name.replace("_", " ")) for name in zone_names()]


class SchoolForm(forms.Form):
    """Edit the settings of the school; a reader without the right to a field sees it disabled."""

    name = forms.CharField(
        max_length=100, label="Name of the school", help_text="Shown at the top of every page and every sheet."
    )
    aerodrome = forms.ModelChoiceField(
        Aerodrome.objects.order_by("name"),
        label="Home aerodrome",
        empty_label=None,
        help_text="Lessons start with its runways, and a release for solo by day applies to it.",
    )
    time_zone = forms.ChoiceField(
        label="Time zone of the school",
        choices=zone_choices,
        help_text="Every day is a day of this zone: of a lesson, of a signature, of an expiry, and today. Times"
        " stay in UTC. The home aerodrome may lie in another zone. A change recalculates the days of"
        " past times, so change it only if it is wrong or the school moves.",
    )
    rule_set = forms.ChoiceField(
        label="Rule set",
        choices=School.RuleSet.choices,
        help_text="Whose requirements before first solo apply; every student is assessed again after a change."
        " The chief instructor decides this.",
    )
    chief_countersigns = forms.TypedChoiceField(
        label="Release for solo",
        choices=[("yes", "signed by the chief instructor"), ("no", "signed by the endorsing instructor alone")],
        coerce=lambda value: value == "yes",
        help_text="The endorsement by the instructor who gave the training is required either way."
        " The chief instructor decides this.",
    )
    speed_unit = forms.ChoiceField(
        label="Speeds in",
        choices=School.SpeedUnit.choices,
        help_text="Speeds at the gates are shown and typed in it; values already recorded keep theirs. Wind"
        " stays in knots.",
    )
    length_unit = forms.ChoiceField(
        label="Heights and distances in",
        choices=School.LengthUnit.choices,
        help_text="Heights at the gates are shown and typed in it; values already recorded keep theirs.",
    )
    paper = forms.ChoiceField(
        label="Paper for printing",
        choices=School.Paper.choices,
        help_text="The default when a sheet is printed; printed sheets keep their size.",
    )
    retention_years = forms.IntegerField(
        label="Records are kept for (years after the end of training)",
        # No min_value: the action's refusal names the rule behind the least number.
        max_value=MAX_RETENTION_YEARS,
        help_text=(
            f"{MIN_RETENTION_YEARS} or more; longer where a rule asks for it. Nothing is erased by itself afterwards."
        ),
    )

    tablet_hours = forms.IntegerField(
        label="Tablets open pages without network for (hours)",
        min_value=1,
        max_value=MAX_TABLET_HOURS,
        help_text="Counted from the last contact with the school. After that a tablet locks what it has not sent"
        " and shows nothing until its user logs in.",
    )

    def __init__(self, *args: Any, school: School, person: Person, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(school, name) for name in (*ADMIN_SETTINGS, *CHIEF_SETTINGS)}
        kwargs["initial"] |= {"chief_countersigns": "yes" if school.chief_countersigns else "no"}
        super().__init__(*args, **kwargs)
        for name in (*ADMIN_SETTINGS, *CHIEF_SETTINGS):
            allowed = can_manage_records(person) if name in ADMIN_SETTINGS else can_decide(person)
            # Django takes the initial value of a disabled field, whatever was posted; the action checks the right as
            # well.
            self.fields[name].disabled = not allowed


DATE_INPUT_ATTRS = {"type": "date"}


def day_field(label: str, required: bool = False) -> forms.DateField:
    return forms.DateField(
        label=label, required=required, widget=forms.DateInput(format="%Y-%m-%d", attrs=DATE_INPUT_ATTRS)
    )


class NewPasswordForm(forms.Form):
    """The password of an invited person, typed twice."""

    password1 = forms.CharField(
        label="Your password",
        # Spaces at its ends belong to a password.
        strip=False,
        help_text=PASSWORD_HELP,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    password2 = forms.CharField(
        label="Repeat your password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "new-password"})
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_password1(self) -> str:
        password: str = self.cleaned_data["password1"]
        validate_password(normalise_password(password), self.person)
        return password

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("password1") and cleaned["password1"] != cleaned.get("password2"):
            self.add_error("password2", "The two passwords differ.")
        return cleaned


class EditPersonForm(forms.Form):
    """Edit the details of a person. Roles and access have forms of their own."""

    given_name = forms.CharField(max_length=100)
    family_name = forms.CharField(max_length=100)
    reference = forms.CharField(label="School number", max_length=20)
    email = forms.EmailField(label="E-mail address", required=False)
    born = day_field("Date of birth")

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        self.person = person
        if person is not None:
            kwargs["initial"] = {name: getattr(person, name) for name in EditPersonForm.base_fields}
        super().__init__(*args, **kwargs)

    def clean_reference(self) -> str:
        reference: str = self.cleaned_data["reference"]
        # The action checks it again under a lock; here the sentence appears beside its field.
        holder = Person.objects.filter(reference=reference).first()
        if holder is not None and holder != self.person:
            raise ValidationError("This school number belongs to somebody else.")
        return reference

    def clean_email(self) -> str:
        return str(self.cleaned_data["email"]).lower()


class SecondPersonForm(forms.Form):
    """Name the person who confirms beside the administrator. The action refuses what is missing, with its reason."""

    second_name = forms.CharField(label="Login name of the second person", max_length=150, required=False)
    second_secret = forms.CharField(
        label="Password of the second person", max_length=200, required=False, strip=False, widget=forms.PasswordInput
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            # A browser would fill in the administrator's own name and password here.
            field.widget.attrs |= {"autocomplete": "off", "autocapitalize": "none"}

    @property
    def confirmation(self) -> Confirmation:
        data = self.cleaned_data if self.is_valid() else {}
        return Confirmation(data.get("second_name", ""), data.get("second_secret", ""))


class RolesForm(forms.Form):
    roles = forms.MultipleChoiceField(
        label="What the person is at the school", choices=Role.choices, widget=forms.CheckboxSelectMultiple
    )


class AddPersonForm(EditPersonForm):
    username = forms.CharField(
        label="Login name",
        max_length=150,
        validators=[UnicodeUsernameValidator()],
        help_text="Letters, digits and @ . + - _; it cannot be changed later.",
    )
    roles = forms.MultipleChoiceField(label="Roles", choices=Role.choices, widget=forms.CheckboxSelectMultiple)
    field_order = ("given_name", "family_name", "reference", "username", "email", "born", "roles")

    def clean_username(self) -> str:
        username: str = self.cleaned_data["username"]
        if Person.objects.filter(username__iexact=username).exists():
            raise ValidationError("This login name is taken.")
        return username


class CertificateForm(PictureForm):
    """An instructor certificate, with its expiry or its recent-experience date (14 CFR 61.51(h)(2)(ii))."""

    number = forms.CharField(max_length=40)
    issued = day_field("Issued", required=True)
    expires = day_field("Expires, or")
    recent_experience_until = day_field("recent experience until")
    field_order = ("number", "issued", "expires", "recent_experience_until", "file", "photo")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        ends = [day for day in (cleaned.get("expires"), cleaned.get("recent_experience_until")) if day]
        if not self.errors and not ends:
            self.add_error("expires", "Enter the day it expires, or the end of recent experience.")
        if cleaned.get("issued") and any(day < cleaned["issued"] for day in ends):
            self.add_error("issued", "The date of issue is after the end: check both.")
        return cleaned


class AddAircraftForm(forms.Form):
    registration = forms.RegexField(
        r"^[A-Za-z0-9-]{2,12}$",
        error_messages={"invalid": "A registration has 2 to 12 letters, digits or hyphens."},
    )
    type = forms.ModelChoiceField(AircraftType.objects.order_by("name"), empty_label=None)

    def clean_registration(self) -> str:
        registration = str(self.cleaned_data["registration"]).upper()
        if Aircraft.objects.filter(registration__iexact=registration).exists():
            raise ValidationError("This aircraft is already on record.")
        return registration


class AircraftTypeForm(forms.Form):
    """A make and model, with the numbers of its flight manual."""

    name = forms.CharField(label="Make and model", max_length=60)
    tailwheel = forms.BooleanField(required=False)
    retractable = forms.BooleanField(label="Retractable gear", required=False)
    constant_speed_propeller = forms.BooleanField(required=False)
    flaps = forms.BooleanField(required=False)
    horsepower = forms.IntegerField(label="Horsepower of its strongest engine", min_value=1, max_value=5000)
    seats = forms.IntegerField(label="Seats, the pilot’s included", min_value=1, max_value=20, required=False)
    stall_landing_kt = forms.IntegerField(
        label="Stall speed, landing configuration (kt)",
        min_value=15,
        max_value=150,
        help_text="Indicated, from its flight manual.",
    )
    stall_clean_kt = forms.IntegerField(label="Stall speed, clean (kt)", min_value=15, max_value=200)
    demonstrated_crosswind_kt = forms.IntegerField(label="Demonstrated crosswind (kt)", min_value=0, max_value=60)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        landing, clean = cleaned.get("stall_landing_kt"), cleaned.get("stall_clean_kt")
        # Flaps lower the stall speed: the other way round, the two numbers are probably swapped.
        if landing and clean and clean < landing:
            self.add_error("stall_clean_kt", "It is below the one with flap: check both in the flight manual.")
        return cleaned


class TypeFeaturesForm(forms.Form):
    """What of a type asks for an endorsement before solo, from its flight manual."""

    horsepower = forms.IntegerField(label="Horsepower of its strongest engine", min_value=1, max_value=5000)
    flaps = forms.BooleanField(label="Flaps", required=False)


class AerodromeForm(forms.Form):
    ident = forms.RegexField(
        r"^[A-Za-z0-9]{3,4}$",
        label="Location indicator",
        error_messages={"invalid": "Three or four letters or digits."},
    )
    name = forms.CharField(max_length=60)
    elevation_ft = forms.IntegerField(label="Elevation (ft)", min_value=-1500, max_value=20000)
    variation_deg = forms.DecimalField(
        label="Magnetic variation (degrees, east positive)",
        min_value=-180,
        max_value=180,
        max_digits=4,
        decimal_places=1,
    )
    circuit_height_ft = forms.IntegerField(
        label="Circuit height above the aerodrome (ft)", min_value=300, max_value=3000, initial=1000
    )

    def __init__(self, *args: Any, instance: Aerodrome | None = None, **kwargs: Any) -> None:
        self.instance = instance
        super().__init__(*args, **kwargs)

    def clean_ident(self) -> str:
        ident = str(self.cleaned_data["ident"]).upper()
        here = Aerodrome.objects.filter(ident=ident).first()
        if here is not None and here != self.instance:
            raise ValidationError("This aerodrome is already on record.")
        return ident


class RunwayForm(forms.Form):
    """One direction of a runway; its number is its magnetic heading in tens of degrees."""

    designator = forms.RegexField(
        r"^(0[1-9]|[12][0-9]|3[0-6])[LCRlcr]?$",
        label="Designator",
        error_messages={"invalid": "Two digits from 01 to 36, with L, C or R if the runway has one."},
    )
    heading_magnetic = forms.IntegerField(label="Heading (degrees magnetic)", min_value=1, max_value=360)
    length_ft = forms.IntegerField(label="Landing distance available (ft)", min_value=300, max_value=20000)
    circuit = forms.ChoiceField(label="Circuit", choices=Runway.CircuitSide.choices)

    def clean_designator(self) -> str:
        return str(self.cleaned_data["designator"]).upper()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        designator, heading = cleaned.get("designator"), cleaned.get("heading_magnetic")
        if designator and heading:
            # Measured round the circle: runway 36 and a heading of 005 are five degrees apart.
            apart = abs((int(designator[:2]) * 10 - heading + 180) % 360 - 180)
            if apart > 10:
                self.add_error("heading_magnetic", f"Runway {designator} cannot have a heading of {heading:03d}°.")
        return cleaned


# A published heading and the magnetic one with the variation are both rounded, and the variation moves with the years.
MAX_HEADING_DIFFERENCE = 3


class RunwayPlaceForm(forms.Form):
    """Where a runway lies, from the published chart. All of it may stay empty, and then is as if it was never asked."""

    threshold_latitude = forms.DecimalField(
        label="Threshold: latitude (degrees, north positive)",
        min_value=-90,
        max_value=90,
        max_digits=9,
        decimal_places=6,
        required=False,
        help_text="In decimal degrees: 47°30′00″ north is 47.5.",
    )
    threshold_longitude = forms.DecimalField(
        label="Threshold: longitude (degrees, east positive)",
        min_value=-180,
        max_value=180,
        max_digits=9,
        decimal_places=6,
        required=False,
    )
    heading_true = forms.DecimalField(
        label="Heading (degrees true)", min_value=0, max_value=360, max_digits=4, decimal_places=1, required=False
    )
    aiming_point_ft = forms.IntegerField(
        label="Aiming point: distance past the threshold (ft)",
        min_value=0,
        max_value=20000,
        required=False,
        help_text="If empty, the pictures assume one sixth of the runway length.",
    )

    def __init__(self, *args: Any, runway: Runway, **kwargs: Any) -> None:
        self.runway = runway
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        latitude, longitude = cleaned.get("threshold_latitude"), cleaned.get("threshold_longitude")
        if not self.errors and (latitude is None) != (longitude is None):
            missing = "threshold_latitude" if latitude is None else "threshold_longitude"
            self.add_error(missing, "A position is latitude and longitude: enter both, or neither.")
        true = cleaned.get("heading_true")
        if true is not None:
            variation = self.runway.aerodrome.variation_deg
            magnetic = float(true - variation)
            apart = abs((magnetic - self.runway.heading_magnetic + 180) % 360 - 180)
            if apart > MAX_HEADING_DIFFERENCE:
                self.add_error(
                    "heading_true",
                    f"With the variation of {variation}° that is {magnetic % 360:.0f}° magnetic, and runway"
                    f" {self.runway.designator} has {self.runway.heading_magnetic:03d}°: check both.",
                )
        point = cleaned.get("aiming_point_ft")
        if point is not None and point >= self.runway.length_ft:
            self.add_error(
                "aiming_point_ft", f"The runway is {self.runway.length_ft:,} ft long: the aiming point lies on it."
            )
        return cleaned


class ObstacleForm(forms.Form):
    """One obstacle of a runway, by the published chart."""

    name = forms.CharField(max_length=40, label="What it is")
    before_ft = forms.IntegerField(
        label="Before the threshold (ft)", min_value=-30000, max_value=30000, help_text="Negative: past the threshold."
    )
    side_ft = forms.IntegerField(
        label="Right of the centreline (ft)", min_value=-10000, max_value=10000, help_text="Negative: on the left."
    )
    height_ft = forms.IntegerField(label="Height above the threshold (ft)", min_value=1, max_value=3000)


ObstacleFormSet = forms.formset_factory(
    ObstacleForm, extra=2, max_num=12, validate_max=True, absolute_max=20, can_delete=True
)
