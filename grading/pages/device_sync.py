"""This module prepares what a tablet receives besides the page: entries by input name, and what others changed."""

import json
from collections.abc import Collection, Iterable
from datetime import UTC

from django.db.models import Max

from grading.actions.device_events import EventResult
from grading.models import Attempt, DeviceEvent, Tap
from grading.pages.gate_numbers import measure_input
from grading.reading.grade_lines import GradingContext
from lessons.models import Circuit, Lesson
from lessons.rules.scale import Help

# A tablet that was away for long lists the last changes; the page it gets shows all of them.
MAX_CHANGES = 50


def circuit_entries_json(
    circuits: Iterable[Circuit], attempts: Iterable[Attempt], grading_context: GradingContext
) -> str:
    """Return every entry of the circuits that is not empty as JSON, so that a tablet can open a circuit by itself."""
    noted: dict[str, str] = {}
    for circuit in circuits:
        prefix = f"circuit.{circuit.number}"
        noted[f"{prefix}.ending"] = circuit.ending
        if circuit.closed:
            noted[f"{prefix}.closed"] = "on"
        if circuit.landing_kind:
            noted[f"{prefix}.landing_kind"] = circuit.landing_kind
        if circuit.shown:
            noted[f"{prefix}.shown"] = "on"
    for attempt in attempts:
        if attempt.circuit is not None:
            prefix = f"circuit.{attempt.circuit.number}.{attempt.part}"
            noted |= {f"{prefix}.{name}": value for name, value in _attempt_entries(attempt, grading_context)}
    return json.dumps(noted, separators=(",", ":"))


def _attempt_entries(attempt: Attempt, grading_context: GradingContext) -> Iterable[tuple[str, str]]:
    if attempt.tapped:
        yield "level", attempt.tapped
    # No entry of its own: opening the circuit again takes these levels back, also without the school.
    if attempt.by_closing:
        yield "by_closing", "on"
    if attempt.kept:
        yield "kept", attempt.kept
    if attempt.help != Help.NONE:
        yield "help", attempt.help
    for fault_seen in attempt.preloaded_faults:
        yield f"fault.{fault_seen.fault.code}", "on"
    for row in attempt.preloaded_criteria:
        yield f"criterion.{row.criterion.code}", "done" if row.done else "not_done"
    for measure in attempt.preloaded_measures:
        unit = grading_context.units.unit_for(measure.target.unit)
        yield f"measure.{measure.target.gate.code}.{measure.target.quantity}", measure_input(measure, unit)


def last_tap_number(lesson: Lesson) -> int:
    """Return the number of the last tap of a lesson, which a page was rendered from; 0 for none."""
    return Tap.objects.filter(lesson=lesson).aggregate(last=Max("id"))["last"] or 0


def taps_since(lesson: Lesson, since: int) -> list[Tap]:
    """Return the taps after a number, oldest first."""
    # By key and not by time: the taps of one request share their moment.
    return list(Tap.objects.filter(lesson=lesson, pk__gt=since).select_related("person").order_by("id"))


def describe_change(tap: Tap) -> dict[str, str]:
    return {
        "words": tap.words,
        "field": tap.field,
        "before": tap.before,
        "value": tap.after,
        "by": tap.person.name,
        "at": f"{tap.at.astimezone(UTC):%H:%M} UTC",
    }


def describe_outcome(taken: EventResult, standing: dict[str, Tap], replaced: dict[str, Tap]) -> dict[str, object]:
    """Describe what became of one event. `other` is the version beside it.

    For a refused event that is the version on record, for an applied one what another device had put there.
    """
    event = taken.event
    refused = event.outcome == DeviceEvent.Outcome.REFUSED
    other = standing.get(event.field) if refused else replaced.get(event.field)
    return {
        "id": str(event.uid),
        "outcome": "known" if taken.known and not refused else event.outcome,
        "said": event.said,
        "other": describe_change(other) if other and event.field else None,
    }


def last_tap_by_field(lesson: Lesson, fields: Collection[str]) -> dict[str, Tap]:
    """Return the last tap of each field."""
    # Oldest first, so that the last tap of each field stays in the dict.
    rows = Tap.objects.filter(lesson=lesson, field__in=fields).select_related("person").order_by("id")
    return {row.field: row for row in rows}
