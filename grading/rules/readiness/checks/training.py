"""Check the training received in flight and logged."""

from collections.abc import Collection, Iterator, Sequence

from grading.rules.readiness.evidence import lesson_evidence
from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.training_items import HALF, whole_item
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.said import said
from lessons.rules.scale import UnitKind

TRAINING_FLIGHTS = (UnitKind.DUAL, UnitKind.STAGE_CHECK)


def check_training_received(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each item, with each of its halves, was taught in flight, in the type or one that is called similar.

    The rule asks for flight training (14 CFR 61.87(c)(1), (d)), so a lesson on the ground never counts.
    """
    codes = spec.words("items")
    # The first lesson of each is the evidence.
    logged: dict[str, LessonFact] = {}
    for lesson in _training_flights(history, spec):
        for code in lesson.training:
            logged.setdefault(code, lesson)
    # A syllabus published before the items had halves logs the whole code, and no published issue ever changes.
    by_whole = {whole_item(c) for c in codes if HALF in c and c not in logged and whole_item(c) in logged}
    given = {code: logged.get(code) or logged.get(whole_item(code)) for code in codes}
    missing = [code for code, lesson in given.items() if lesson is None]
    evidence = tuple(_item_evidence(history, code, row) for code, row in given.items() if row is not None)
    items = {whole_item(code) for code in codes}
    done = len(items - {whole_item(code) for code in missing})
    far = said("logged", done=done, needed=len(items))
    if by_whole:
        far = said("logged_by_older_syllabus", done=done, needed=len(items), count=len(by_whole))
    if missing:
        would = said("teach_items", items=tuple(missing))
        return CheckResult(State.OPEN, far, done, len(items), evidence, would)
    since = max((row.signed or row.on for row in given.values() if row is not None), default=None)
    return CheckResult(State.MET, far, done, len(items), evidence, since=since)


def check_manoeuvres_taught(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each manoeuvre was taught in a training flight, at any level that was observed."""
    codes = spec.words("manoeuvres")
    taught: dict[str, LessonFact] = {}
    for lesson in _training_flights(history, spec):
        for attempt in lesson.attempts:
            if attempt.observed:
                taught.setdefault(attempt.manoeuvre, lesson)
    missing = [code for code in codes if code not in taught]
    evidence = tuple(lesson_evidence(taught[code], "shown", manoeuvre=code) for code in codes if code in taught)
    done = len(codes) - len(missing)
    far = said("logged", done=done, needed=len(codes))
    if missing:
        would = said("teach_manoeuvres", manoeuvres=tuple(missing))
        return CheckResult(State.OPEN, far, done, len(codes), evidence, would)
    since = max((taught[code].signed or taught[code].on for code in codes), default=None)
    return CheckResult(State.MET, far, done, len(codes), evidence, since=since)


def count_items_given(history: History, instructor: str) -> tuple[int, int] | None:
    """Return how many items of training this instructor gave in flight, halves and all, and how many there are.

    None where the standard lists no items. 14 CFR 61.195(d)(1): who endorses gave the training.
    """
    spec = next((row for row in history.standard.requirements if row.check == "training_received"), None)
    if spec is None:
        return None
    own = {c for row in _training_flights(history, spec) if row.instructor == instructor for c in row.training}
    return count_items(spec.words("items"), own)


def count_items(codes: Sequence[str], given: Collection[str]) -> tuple[int, int]:
    """Return how many items are given with all their halves, and how many there are."""
    items = {whole_item(code) for code in codes}
    missing = {whole_item(code) for code in codes if code not in given and whole_item(code) not in given}
    return len(items - missing), len(items)


def _training_flights(history: History, spec: RequirementSpec) -> Iterator[LessonFact]:
    types = {history.facts.aircraft_type.code, *spec.words("similar_types")}
    # A lesson that names no aircraft was not flown, whatever the kind of its unit.
    return (row for row in history.lessons if row.kind in TRAINING_FLIGHTS and row.aircraft_type in types)


def _item_evidence(history: History, code: str, lesson: LessonFact) -> Evidence:
    if lesson.aircraft_type == history.facts.aircraft_type.code:
        return lesson_evidence(lesson, "item", item=code)
    return lesson_evidence(lesson, "item_in_similar_type", item=code, aircraft_type=lesson.aircraft_type)
