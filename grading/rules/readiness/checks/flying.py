"""Check how well it was flown: rows to standard, take-overs, critical faults, a second instructor."""

from collections import Counter
from collections.abc import Callable
from itertools import islice
from operator import attrgetter

from grading.rules.readiness.facts import COUNTED_PARTS, AttemptFact, CircuitFact, LessonFact
from grading.rules.readiness.faults import fault_statuses
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.readiness.wording import count_noun, flown_evidence, lesson_evidence
from lessons.rules.scale import Ending, Help, UnitKind

PART_GETTERS: dict[str, Callable[[CircuitFact], AttemptFact | None]] = {
    part: attrgetter(part) for part in COUNTED_PARTS
}


def current_streak(history: History, part: str) -> list[FlownAttempt]:
    """Return the unbroken row to standard that ends with the newest attempt, oldest first.

    An attempt that was not observed, or a circuit without this part (a go-around has no landing),
    neither adds to a row nor breaks it. Everything else that is not to standard breaks it.
    """
    # Backwards, so that the work grows with the row and not with the years flown.
    row: list[FlownAttempt] = []
    pick = PART_GETTERS[part]
    for lesson, circuit in reversed(history.circuits):
        attempt = pick(circuit)
        if attempt is None:
            continue
        if history.is_to_standard(attempt):
            row.append(FlownAttempt(lesson, circuit, attempt))
        # Control taken and a critical fault break the row without a level too: the worst must not pass because one
        # key was left out.
        elif attempt.observed or attempt.help is Help.TOOK_CONTROL or attempt.critical:
            break
    return row[::-1]


def check_in_a_row(history: History, spec: RequirementSpec) -> CheckResult:
    """Check the last N of one part of the circuit, to standard, over a least number of lessons."""
    part, needed, least = spec.words("part")[0], spec.number("needed"), spec.number("lessons")
    row = current_streak(history, part)
    # Several lessons, because a row on one good day shows less than the same row over several.
    over = len({flown.lesson.number for flown in row})
    evidence = _streak_ends(row)
    if len(row) < needed:
        missing = needed - len(row)
        would = f"{count_noun(missing, f'more {part}')} in a row to standard, without help."
        return CheckResult(State.OPEN, f"{len(row)} of {needed}", len(row), needed, evidence, would)
    if over < least:
        where = "all in one lesson" if over == 1 else f"over {over} of {least} lessons"
        how_far = f"{len(row)} in a row, but {where}"
        return CheckResult(
            State.OPEN, how_far, len(row), needed, evidence, f"One more {part} to standard on another day."
        )
    met_by = _lesson_that_met(row, needed, least)
    return CheckResult(State.MET, f"{len(row)} in a row", len(row), needed, evidence, since=met_by.signed)


def _lesson_that_met(row: list[FlownAttempt], needed: int, least: int) -> LessonFact:
    """Return the lesson with which the row first was long enough."""
    lessons: set[int] = set()
    for count, flown in enumerate(row, start=1):
        lessons.add(flown.lesson.number)
        if count >= needed and len(lessons) >= least:
            return flown.lesson
    return row[-1].lesson


def _streak_ends(row: list[FlownAttempt]) -> tuple[Evidence, ...]:
    if not row:
        return ()
    ends = (row[0], row[-1]) if len(row) > 1 else (row[0],)
    return tuple(flown_evidence(flown, word) for flown, word in zip(ends, ("From", "To"), strict=False))


def check_shown_unaided(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a manoeuvre was shown at least once to standard."""
    code = spec.words("manoeuvres")[0]
    good = [flown for flown in history.manoeuvre(code) if history.is_to_standard(flown.attempt)]
    if not good:
        return CheckResult(State.OPEN, "not shown yet", 0, 1, would_meet="Show it once to standard, without help.")
    return CheckResult(State.MET, "shown", 1, 1, (flown_evidence(good[-1]),), since=good[0].lesson.signed)


def check_last_at_level(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each of some manoeuvres was to standard the last time it was observed."""
    codes = spec.words("manoeuvres")
    good, below = [], []
    for code in codes:
        observed = [flown for flown in history.manoeuvre(code) if flown.attempt.observed]
        if observed and history.is_to_standard(observed[-1].attempt):
            good.append(observed[-1])
        else:
            below.append(code.replace("_", " "))
    evidence = tuple(flown_evidence(flown, flown.attempt.manoeuvre.replace("_", " ").capitalize()) for flown in good)
    how_far = f"{len(good)} of {len(codes)}"
    if below:
        would = "To standard, without help: " + ", ".join(below) + "."
        return CheckResult(State.OPEN, how_far, len(good), len(codes), evidence, would)
    since = max((flown.lesson.signed or flown.lesson.on for flown in good), default=None)
    return CheckResult(State.MET, how_far, len(good), len(codes), evidence, since=since)


def check_no_take_over(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that the instructor took control in none of the last M circuits."""
    # Circuits that nobody graded are left out, or some empty ones would push a take-over out of the last M.
    newest = (pair for pair in reversed(history.circuits) if instructor_took_control(pair[1]) or _is_observed(pair[1]))
    last = list(islice(newest, spec.number("circuits")))[::-1]
    if not last:
        return CheckResult(State.OPEN, "no circuits flown yet", would_meet="Fly circuits.")
    taken = [(lesson, circuit) for lesson, circuit in last if instructor_took_control(circuit)]
    if not taken:
        return CheckResult(State.MET, f"none in the last {count_noun(len(last), 'circuit')}", since=last[-1][0].signed)
    evidence = tuple(flown_evidence(FlownAttempt(lesson, circuit, AttemptFact(""))) for lesson, circuit in taken)
    after = len(last) - 1 - last.index(taken[-1])
    missing = spec.number("circuits") - after
    return CheckResult(
        State.OPEN,
        f"{len(taken)} in the last {count_noun(len(last), 'circuit')}",
        evidence=evidence,
        would_meet=f"{count_noun(missing, 'circuit')} without the instructor taking control.",
    )


def _is_observed(circuit: CircuitFact) -> bool:
    return any(part.observed for part in circuit.parts)


def instructor_took_control(circuit: CircuitFact) -> bool:
    return circuit.ending is Ending.TOOK_CONTROL or any(part.help is Help.TOOK_CONTROL for part in circuit.parts)


def check_no_open_critical_fault(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each critical fault was followed by enough clean attempts at its manoeuvre."""
    clean_needed = spec.number("clean")
    if not history.circuits and not any(lesson.manoeuvres for lesson in history.lessons):
        return CheckResult(State.OPEN, "nothing flown yet", would_meet="Fly and be graded.")
    critical = [row for row in fault_statuses(history) if row.critical and row.clean < clean_needed]
    if not critical:
        return CheckResult(State.MET, "none open", since=None)
    evidence = tuple(flown_evidence(row.last, row.name.capitalize()) for row in critical)
    words = ", ".join(f"{row.name} ({row.clean} of {clean_needed} clean since)" for row in critical)
    most = max(clean_needed - row.clean for row in critical)
    would = f"{count_noun(most, 'attempt')} without it."
    return CheckResult(State.OPEN, words, evidence=evidence, would_meet=would)


def check_second_instructor(history: History, spec: RequirementSpec) -> CheckResult:
    """Check for a stage check, all of it to standard, with an instructor other than the student's own."""
    # The database names none: a reassignment today must not change the verdict of a past day.
    own = history.facts.own_instructor or _most_frequent_instructor(history.lessons)
    checks = [row for row in history.lessons if row.kind is UnitKind.STAGE_CHECK and row.instructor != own]
    passed = [row for row in checks if _all_to_standard(history, row)]
    if passed:
        last = passed[-1]
        evidence = (lesson_evidence(last, f"Flown with {last.instructor}"),)
        return CheckResult(State.MET, f"flown with {last.instructor}", evidence=evidence, since=passed[0].signed)
    if checks:
        last = checks[-1]
        evidence = (lesson_evidence(last, f"Flown with {last.instructor}"),)
        return CheckResult(
            State.OPEN, "flown, not all of it to standard", evidence=evidence, would_meet="Fly it again."
        )
    return CheckResult(State.OPEN, "not flown", would_meet="A stage check with another instructor.")


def _most_frequent_instructor(lessons: tuple[LessonFact, ...]) -> str | None:
    # By name where two taught as often, so that the answer does not depend on the order of the lessons.
    taught = Counter(row.instructor for row in lessons if row.kind is UnitKind.DUAL)
    return max(taught, key=lambda name: (taught[name], name)) if taught else None


def _all_to_standard(history: History, lesson: LessonFact) -> bool:
    observed = [attempt for attempt in lesson.attempts if attempt.observed]
    # all() of nothing is true, and a check in which nothing was graded shows nothing.
    return bool(observed) and all(history.is_to_standard(attempt) for attempt in observed)
