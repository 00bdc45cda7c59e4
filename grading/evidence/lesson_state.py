"""Read what stands of a lesson under the names of its entries, to be compared with them by `entry_replay`."""

from collections import defaultdict
from collections.abc import Collection, Iterable

from grading.models import Attempt, CriterionSeen, FaultSeen, Grade, Measure, Tap
from grading.rules.entry_replay import LAST_CLOSING, TO_STANDARD, Entry, State
from lessons.detail_text import detail_text
from lessons.models import Circuit, Lesson
from lessons.rules.scale import Help

DETAILS = (
    "dual_minutes", "solo_minutes", "night_minutes", "instrument_minutes", "ground_minutes", "takeoffs", "landings",
    "off_blocks", "on_blocks", "runway", "aircraft", "weather_report", "outside_release", "remarks", "next_time",
)  # fmt: skip


def load_states(lessons: Iterable[Lesson]) -> dict[int, State]:
    """Return the state of each lesson by its key, in six queries; only values that are not empty are in it."""
    states: dict[int, State] = {lesson.pk: _details(lesson) for lesson in lessons}
    for circuit in Circuit.objects.filter(lesson__in=states):
        states[circuit.lesson_id] |= {
            f"circuit.{circuit.number}.ending": circuit.ending,
            f"circuit.{circuit.number}.landing_kind": circuit.landing_kind,
            f"circuit.{circuit.number}.shown": "on" if circuit.shown else "",
            f"circuit.{circuit.number}.closed": "on" if circuit.closed else "",
        }
    places: dict[int, str] = {}
    rows = Attempt.objects.filter(lesson__in=states).select_related("circuit", "manoeuvre")
    for attempt in rows:
        own = f"manoeuvre.{attempt.manoeuvre.code}"
        places[attempt.pk] = place = f"circuit.{attempt.circuit.number}.{attempt.part}" if attempt.circuit else own
        states[attempt.lesson_id] |= _attempt(attempt, place)
    within = {"attempt__lesson__in": states}
    for seen in FaultSeen.objects.filter(**within).select_related("attempt", "fault"):
        states[seen.attempt.lesson_id][f"{places[seen.attempt_id]}.fault.{seen.fault.code}"] = "on"
    for looked in CriterionSeen.objects.filter(**within).select_related("attempt", "criterion"):
        name = f"{places[looked.attempt_id]}.criterion.{looked.criterion.code}"
        states[looked.attempt.lesson_id][name] = "done" if looked.done else "not_done"
    for row in Measure.objects.filter(**within).select_related("attempt", "target__gate"):
        name = f"{places[row.attempt_id]}.measure.{row.target.gate.code}.{row.target.quantity}"
        states[row.attempt.lesson_id][name] = row.entry_text
    for grade in Grade.objects.filter(lesson__in=states).select_related("manoeuvre"):
        states[grade.lesson_id][f"grade.{grade.manoeuvre.code}"] = grade.given_code
    return {pk: {name: value for name, value in state.items() if value} for pk, state in states.items()}


def load_entries(lessons: Collection[int]) -> dict[int, list[Entry]]:
    """Return the entries of each lesson in their order."""
    entries: dict[int, list[Entry]] = defaultdict(list)
    taps = Tap.objects.filter(lesson__in=lessons).order_by("pk")
    for lesson, field, after, undoes in taps.values_list("lesson", "field", "after", "undoes"):
        entries[lesson].append(Entry(field, after, undoes is not None))
    return entries


def _details(lesson: Lesson) -> State:
    return {f"lesson.{name}": detail_text(lesson, name) for name in DETAILS}


def _attempt(attempt: Attempt, place: str) -> State:
    closing = {f"{place.rpartition('.')[0]}{LAST_CLOSING}": TO_STANDARD} if attempt.by_closing else {}
    return closing | {
        f"{place}.level": TO_STANDARD if attempt.by_closing else attempt.tapped,
        f"{place}.help": "" if attempt.help == Help.NONE else attempt.help,
        f"{place}.kept": attempt.kept,
    }
