"""The wind that a student expects, typed to see what it does to the circuit. Nothing of it is stored."""

from typing import Any

from django import forms

from lessons.models import WindReference
from lessons.rules.wind import Wind, to_magnetic
from lessons.weather import STRONGEST_KT
from school.models import Aerodrome, Runway


class ExpectedWindForm(forms.Form):
    runway = forms.ChoiceField(label="Runway")
    direction = forms.IntegerField(
        label="Wind from (°)", min_value=0, max_value=360, required=False, help_text="Leave empty in calm wind."
    )
    reference = forms.ChoiceField(
        label="of north",
        choices=WindReference.choices,
        initial=WindReference.TRUE,
        help_text="A forecast is in degrees true.",
    )
    speed = forms.IntegerField(label="Wind (kt)", min_value=0, max_value=STRONGEST_KT)
    gust = forms.IntegerField(label="Gusting to (kt)", min_value=0, max_value=STRONGEST_KT, required=False)

    def __init__(self, *args: Any, aerodrome: Aerodrome, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.aerodrome = aerodrome
        # Read once: a field of models would ask again for each rendering.
        self.runways = {str(row.pk): row for row in aerodrome.runways.order_by("designator")}
        self.fields["runway"].choices = [(key, row.designator) for key, row in self.runways.items()]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        speed, gust = cleaned.get("speed"), cleaned.get("gust")
        if speed is not None and gust is not None and gust < speed:
            self.add_error("gust", "A gust cannot be weaker than the steady wind.")
        if (speed or gust) and cleaned.get("direction") is None and "direction" not in self.errors:
            self.add_error("direction", "A wind has a direction: without it nothing can be drawn.")
        return cleaned

    @property
    def chosen_runway(self) -> Runway:
        """Return the runway of a valid form."""
        return self.runways[self.cleaned_data["runway"]]

    @property
    def wind(self) -> Wind:
        """Return the wind of a valid form in degrees magnetic."""
        data = self.cleaned_data
        direction = data["direction"] if data["speed"] or data["gust"] else None
        if direction is not None and data["reference"] == WindReference.TRUE:
            direction = to_magnetic(direction, float(self.aerodrome.variation_deg))
        return Wind(direction, data["speed"], data["gust"])
