"""Check how well it was flown beside the parts of the circuit: manoeuvres, control taken, faults, a stage check."""

from itertools import islice

from grading.rules.readiness.facts import AttemptFact, CircuitFact, LessonFact
from grading.rules.readiness.faults import fault_statuses
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.own_instructor import own_instructors
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, State
from grading.rules.readiness.wording import count_noun, flown_evidence, lesson_evidence
from lessons.rules.scale import Ending, Help, UnitKind


def check_shown_unaided(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a manoeuvre was shown at least once to standard."""
    code = spec.words("manoeuvres")[0]
    good = [flown for flown in history.manoeuvre(code) if history.is_to_standard(flown.attempt)]
    if not good:
        return CheckResult(State.OPEN, "not shown yet", 0, 1, would_meet="Show it once, to standard, without help.")
    return CheckResult(State.MET, "shown", 1, 1, (flown_evidence(good[-1]),), since=good[0].lesson.signed)


def check_last_at_level(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each of some manoeuvres was to standard the last time it was observed."""
    codes = spec.words("manoeuvres")
    good, below = [], []
    for code in codes:
        observed = [flown for flown in history.manoeuvre(code) if history.judge(flown.attempt) is not None]
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
    asked = spec.number("circuits")
    last = list(islice(newest, asked))[::-1]
    taken = [(lesson, circuit) for lesson, circuit in last if instructor_took_control(circuit)]
    evidence = tuple(flown_evidence(FlownAttempt(lesson, circuit, AttemptFact(""))) for lesson, circuit in taken)
    clean = len(last) - 1 - last.index(taken[-1]) if taken else len(last)
    if clean == asked:
        how_far = f"none in the last {count_noun(asked, 'circuit')}"
        return CheckResult(State.MET, how_far, since=last[-1][0].signed)
    would = f"At least {count_noun(asked - clean, 'more circuit')} without the instructor taking control."
    if taken:
        how_far = f"{len(taken)} in the last {count_noun(len(last), 'circuit')}"
        return CheckResult(State.OPEN, how_far, evidence=evidence, would_meet=would, more=asked - clean)
    # Fewer circuits without taking over show nothing of the ones that are still to come.
    how_far = f"none in {len(last)} of {asked} circuits flown so far" if last else "no circuit flown yet"
    return CheckResult(State.NOT_KNOWN, how_far, would_meet=would, more=asked - clean)


def _is_observed(circuit: CircuitFact) -> bool:
    return any(part.observed for part in circuit.parts)


def instructor_took_control(circuit: CircuitFact) -> bool:
    return circuit.ending is Ending.TOOK_CONTROL or any(part.help is Help.TOOK_CONTROL for part in circuit.parts)


def check_no_open_critical_fault(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each critical fault was followed by enough clean attempts at its manoeuvre."""
    clean_needed = spec.number("clean")
    if not history.attempts:
        return CheckResult(State.OPEN, "nothing flown yet", would_meet="Fly and be graded.")
    critical = [row for row in fault_statuses(history) if row.critical and row.clean < clean_needed]
    if not critical:
        return CheckResult(State.MET, "none open", since=None)
    evidence = tuple(flown_evidence(row.last, row.name.capitalize()) for row in critical)
    words = ", ".join(f"{row.name} ({row.clean} of {clean_needed} attempts without it since)" for row in critical)
    most = max(clean_needed - row.clean for row in critical)
    would = f"{count_noun(most, 'attempt')} without it."
    return CheckResult(State.OPEN, words, evidence=evidence, would_meet=would)


def check_second_instructor(history: History, spec: RequirementSpec) -> CheckResult:
    """Check for a stage check, all of it to standard, with an instructor other than the student's own."""
    # The database names none: a reassignment today must not change the verdict of a past day.
    own = own_instructors(history.lessons, history.facts.own_instructor)
    checks = [row for row in history.lessons if row.kind is UnitKind.STAGE_CHECK and row.instructor not in own]
    passed = [row for row in checks if _all_to_standard(history, row)]
    if passed:
        last = passed[-1]
        evidence = (lesson_evidence(last, f"Flown with {last.instructor}"),)
        return CheckResult(State.MET, f"flown with {last.instructor}", evidence=evidence, since=passed[0].signed)
    if checks:
        last = checks[-1]
        evidence = (lesson_evidence(last, f"Flown with {last.instructor}"),)
        return CheckResult(
            State.OPEN, "flown, but not all to standard", evidence=evidence, would_meet="Fly the stage check again."
        )
    return CheckResult(State.OPEN, "not flown", would_meet="Fly a stage check with another instructor.")


def _all_to_standard(history: History, lesson: LessonFact) -> bool:
    # From the history and not from the lesson: a circuit that was shown, or flown in another type, is no evidence.
    judged = [history.judge(flown.attempt) for flown in history.attempts if flown.lesson is lesson]
    # all() of nothing is true, and a check in which nothing was graded shows nothing.
    return True in judged and False not in judged
