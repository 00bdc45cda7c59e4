"""This module shows a student on the evening before what the expected wind would do to the circuit."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from grading.forms.expected_wind import ExpectedWindForm
from grading.pages.brief import runway_cautions
from grading.pages.wind_brief import wind_brief
from grading.reading.facts import all_releases_in_force, releases_given
from lessons.models import Enrolment, GateSet
from lessons.rules.units import DisplayUnits
from school.current import get_school


def expected_wind_context(enrolment: Enrolment, today: date, typed: Mapping[str, str]) -> dict[str, Any]:
    """Return the form, and what the typed wind does."""
    form = ExpectedWindForm(typed if "speed" in typed else None, aerodrome=get_school().aerodrome)
    context: dict[str, Any] = {"wind_form": form, "circuit_wind": None, "wind_cautions": []}
    if not form.is_bound or not form.is_valid():
        return context
    school = get_school()
    units = DisplayUnits(school.speed_unit, school.length_unit)
    wind, runway, flown = form.wind, form.chosen_runway, enrolment.aircraft_type
    gate_set = GateSet.objects.in_force(today).filter(aircraft_type=flown.pk).first()
    releases = all_releases_in_force(releases_given(enrolment), today)
    brief = wind_brief(gate_set, flown.stall_landing_kt, runway, wind, units)
    cautions = runway_cautions(wind, runway, flown.demonstrated_crosswind_kt, releases)
    return context | {"circuit_wind": brief, "wind_cautions": cautions}
