"""What a tablet is told besides the page: entries by the names of their inputs, and what others changed."""

import json
from collections.abc import Collection, Iterable

from django.db.models import Max

from grading.actions.tablet import Taken
from grading.models import Attempt, DeviceEvent, Tap
from grading.pages.pads import as_read
from grading.reading.grade_lines import Ruler
from lessons.models import Circuit, Lesson
from lessons.rules.scale import Help

MOST_CHANGES = 50


def noted_in_circuits(circuits: Iterable[Circuit], attempts: Iterable[Attempt], ruler: Ruler) -> str:
    """Every entry of the circuits that is not empty, as JSON: what a tablet needs to open one again by itself."""
    noted: dict[str, str] = {}
    for circuit in circuits:
        noted[f"circuit.{circuit.number}.ending"] = circuit.ending
        if circuit.closed:
            noted[f"circuit.{circuit.number}.closed"] = "on"
    for attempt in attempts:
        if attempt.circuit is not None:
            prefix = f"circuit.{attempt.circuit.number}.{attempt.part}"
            noted |= {f"{prefix}.{name}": value for name, value in _entries(attempt, ruler)}
    return json.dumps(noted, separators=(",", ":"))


def _entries(attempt: Attempt, ruler: Ruler) -> Iterable[tuple[str, str]]:
    if attempt.tapped:
        yield "level", attempt.tapped
    if attempt.help != Help.NONE:
        yield "help", attempt.help
    for fault_seen in attempt.its_faults:
        yield f"fault.{fault_seen.fault.code}", "on"
    for row in attempt.its_criteria:
        yield f"criterion.{row.criterion.code}", "done" if row.done else "not_done"
    for measure in attempt.its_measures:
        unit = ruler.units.of(measure.target.unit)
        yield f"measure.{measure.target.gate.code}.{measure.target.quantity}", as_read(measure, unit)


def last_number(lesson: Lesson) -> int:
    """The number of the last tap of a lesson, 0 for none: what a page was rendered from."""
    return Tap.objects.filter(lesson=lesson).aggregate(last=Max("id"))["last"] or 0


def taps_since(lesson: Lesson, since: int) -> list[Tap]:
    """Taps after a number, oldest first."""
    return list(Tap.objects.filter(lesson=lesson, pk__gt=since).select_related("person").order_by("id"))


def change_said(tap: Tap) -> dict[str, str]:
    return {
        "words": tap.words,
        "field": tap.field,
        "before": tap.before,
        "value": tap.after,
        "by": tap.person.name,
        "at": f"{tap.at:%H:%M} UTC",
    }


def outcome_said(taken: Taken, standing: dict[str, Tap], replaced: dict[str, Tap]) -> dict[str, object]:
    """What became of one event. `other` is the version beside it.

    For a refused one that is what stands on record, for an applied one what another device had put there.
    """
    event = taken.event
    refused = event.outcome == DeviceEvent.Outcome.REFUSED
    other = standing.get(event.field) if refused else replaced.get(event.field)
    return {
        "id": str(event.uid),
        "outcome": "known" if taken.known and not refused else event.outcome,
        "said": event.said,
        "other": change_said(other) if other and event.field else None,
    }


def last_taps(lesson: Lesson, fields: Collection[str]) -> dict[str, Tap]:
    """The last tap of each field."""
    rows = Tap.objects.filter(lesson=lesson, field__in=fields).select_related("person").order_by("id")
    return {row.field: row for row in rows}
