"""A long lesson that is being written: those circuits that it has, flown again until there are twenty."""

import json
from collections import defaultdict

from django.utils import timezone

from grading.actions import recording
from grading.pages.device_sync import circuit_entries_json
from grading.reading.grade_lines import load_attempts, load_grading_context
from lessons.models import Lesson

CIRCUITS = 20


def fly_long_lesson() -> None:
    """Enter, through the action of the tablet's form, what was entered in the circuits before: levels, faults, numbers.

    The last lesson that was begun is taken, so that the first is measured as it is.
    """
    begun = Lesson.objects.unsigned().for_pages().order_by("-pk")
    lesson = next(row for row in begun if row.unit.flies_circuits)
    circuits = list(lesson.circuits.order_by("number"))
    noted = json.loads(circuit_entries_json(circuits, load_attempts(lesson), load_grading_context(lesson)))
    flown: dict[int, dict[str, str]] = defaultdict(dict)
    for field, value in noted.items():
        _, number, name = field.split(".", 2)
        # Whether the closing key gave a level is no entry of its own; a circuit is closed when all else is entered.
        if not name.endswith((".by_closing", "closed")):
            flown[int(number)][name] = value
    for number in range(len(circuits) + 1, CIRCUITS + 1):
        before = flown[(number - 1) % len(circuits) + 1]
        entries = {f"circuit.{number}.{name}": value for name, value in [*before.items(), ("closed", "on")]}
        recording.record_entries(lesson=lesson, entries=entries, by=lesson.instructor, at=timezone.now())
