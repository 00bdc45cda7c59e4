from typing import Any

from django import forms

from lessons.fields import DayField
from lessons.models import Enrolment, KnowledgeTest, Unit
from lessons.rules import typical_circuit
from lessons.rules.scale import UnitKind
from lessons.rules.typical_circuit import CircuitKind, CircuitWish
from school.current import get_school
from school.models import Aircraft, Runway


class UnitChoiceField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return str(obj)


class BeginLessonForm(forms.Form):
    """Student, unit, aircraft, runway, day: what a lesson needs before it is flown."""

    enrolment = forms.ModelChoiceField(Enrolment.objects.none(), label="Student", empty_label=None)
    unit = UnitChoiceField(Unit.objects.none(), label="Unit", empty_label=None)
    on = DayField(label="Date")
    aircraft = forms.ModelChoiceField(
        Aircraft.objects.none(), required=False, label="Aircraft", empty_label="none: on the ground"
    )
    runway = forms.ModelChoiceField(
        Runway.objects.none(), required=False, label="Runway in use", empty_label="not known yet"
    )
    # Shown where a solo has no release that allows it; ignored for every other flight.
    outside_release = forms.CharField(
        required=False,
        max_length=2000,
        label="Why this solo is flown anyway",
        help_text="It is kept with the signed record, and the chief instructor can read it.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, enrolment: Enrolment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        school = get_school()
        fields: dict[str, Any] = self.fields
        # The only choice: a hidden input that was changed cannot name another student.
        fields["enrolment"].queryset = Enrolment.objects.filter(pk=enrolment.pk).select_related("student")
        fields["enrolment"].label_from_instance = lambda row: row.student.name
        fields["enrolment"].widget = forms.HiddenInput()
        fields["unit"].queryset = (
            Unit.objects.filter(stage__syllabus=enrolment.syllabus_id)
            .select_related("stage")
            .order_by("stage__number", "number")
        )
        fields["aircraft"].queryset = (
            Aircraft.objects.filter(in_service=True, type=enrolment.aircraft_type_id)
            .select_related("type")
            .order_by("registration")
        )
        fields["runway"].queryset = (
            Runway.objects.filter(aerodrome=school.aerodrome_id).select_related("aerodrome").order_by("designator")
        )
        fields["runway"].label_from_instance = lambda row: f"Runway {row.designator}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        unit = cleaned.get("unit")
        if unit and unit.kind != UnitKind.GROUND and not cleaned.get("aircraft"):
            self.add_error("aircraft", "This unit is a flight: choose the aircraft.")
        return cleaned


class WrittenTestForm(forms.Form):
    """A written test of a unit. With topics it is the pre-solo knowledge test (14 CFR 61.87(b))."""

    title = forms.CharField(max_length=80, label="Name of the test")
    unit = UnitChoiceField(Unit.objects.none(), required=False, label="Unit it belongs to", empty_label="none")
    taken_on = DayField(label="Taken on")
    topics = forms.MultipleChoiceField(
        label="Topics of the pre-solo knowledge test",
        required=False,
        choices=KnowledgeTest.Topic.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text="all three for the pre-solo test, none for any other",
    )
    questions = forms.IntegerField(min_value=1, max_value=500)
    wrong = forms.IntegerField(label="Wrong answers", min_value=0, max_value=500)
    reviewed_on = DayField(
        label="All wrong answers reviewed on",
        required=False,
        help_text="leave empty if not yet reviewed",
    )

    def __init__(self, *args: Any, units: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: dict[str, Any] = self.fields
        fields["unit"].queryset = units


class TypicalCircuitForm(forms.Form):
    """What the gates of a new type begin from; the stall speeds are those of the type."""

    kind = forms.ChoiceField(label="Begin from", choices=[(kind.value, kind.label) for kind in CircuitKind])
    height_ft = forms.IntegerField(
        label="Circuit height above the aerodrome (ft)",
        min_value=typical_circuit.MIN_HEIGHT_FT,
        max_value=typical_circuit.MAX_HEIGHT_FT,
    )
    width_ft = forms.IntegerField(
        label="From the runway to the downwind leg (ft)",
        min_value=typical_circuit.MIN_WIDTH_FT,
        max_value=typical_circuit.MAX_WIDTH_FT,
        help_text="Half a mile is 3,000 ft.",
    )

    def wish(self) -> CircuitWish:
        typed = self.cleaned_data
        return CircuitWish(CircuitKind(typed["kind"]), typed["height_ft"], typed["width_ft"])
