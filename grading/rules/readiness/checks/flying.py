"""Check how well it was flown beside the parts of the circuit: manoeuvres, control taken, faults, a stage check."""

from itertools import islice

from grading.rules.readiness.evidence import flown_evidence, lesson_evidence
from grading.rules.readiness.facts import AttemptFact, CircuitFact, LessonFact
from grading.rules.readiness.faults import fault_statuses
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.own_instructor import own_instructors
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, State
from grading.rules.said import said
from lessons.rules.scale import Ending, Help, UnitKind


def check_shown_unaided(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a manoeuvre was shown at least once to standard."""
    code = spec.words("manoeuvres")[0]
    good = [flown for flown in history.manoeuvre(code) if history.is_to_standard(flown.attempt)]
    if not good:
        return CheckResult(State.OPEN, said("not_shown"), 0, 1, to_meet=said("show_once"))
    return CheckResult(State.MET, said("is_shown"), 1, 1, (flown_evidence(good[-1]),), since=good[0].lesson.signed)


def check_last_at_level(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each of some manoeuvres was to standard the last time it was observed."""
    codes = spec.words("manoeuvres")
    good, below = [], []
    for code in codes:
        observed = [flown for flown in history.manoeuvre(code) if history.judge(flown.attempt) is not None]
        if observed and history.is_to_standard(observed[-1].attempt):
            good.append(observed[-1])
        else:
            below.append(code)
    evidence = tuple(flown_evidence(flown, "shown", manoeuvre=flown.attempt.manoeuvre) for flown in good)
    far = said("of_needed", done=len(good), needed=len(codes))
    if below:
        would = said("bring_to_standard", manoeuvres=tuple(below))
        return CheckResult(State.OPEN, far, len(good), len(codes), evidence, would)
    since = max((flown.lesson.signed or flown.lesson.on for flown in good), default=None)
    return CheckResult(State.MET, far, len(good), len(codes), evidence, since=since)


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
        return CheckResult(State.MET, said("control_not_taken", count=asked), since=last[-1][0].signed)
    would = said("fly_without_control_taken", count=asked - clean)
    if taken:
        far = said("control_taken", taken=len(taken), count=len(last))
        return CheckResult(State.OPEN, far, evidence=evidence, to_meet=would, more=asked - clean)
    # Fewer circuits without taking over show nothing of the ones that are still to come.
    far = said("control_not_taken_so_far", flown=len(last), needed=asked) if last else said("no_circuit")
    return CheckResult(State.NOT_KNOWN, far, to_meet=would, more=asked - clean)


def _is_observed(circuit: CircuitFact) -> bool:
    return any(part.observed for part in circuit.parts)


def instructor_took_control(circuit: CircuitFact) -> bool:
    return circuit.ending is Ending.TOOK_CONTROL or any(part.help is Help.TOOK_CONTROL for part in circuit.parts)


def check_no_open_critical_fault(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that each critical fault was followed by enough clean attempts at its manoeuvre."""
    clean_needed = spec.number("clean")
    if not history.attempts:
        return CheckResult(State.OPEN, said("nothing_flown"), to_meet=said("fly_and_be_graded"))
    critical = [row for row in fault_statuses(history) if row.critical and row.clean < clean_needed]
    if not critical:
        return CheckResult(State.MET, said("no_open_fault"), since=None)
    evidence = tuple(flown_evidence(row.last, "fault", fault=row.name) for row in critical)
    rows = tuple(said("open_fault", fault=row.name, done=row.clean, needed=clean_needed) for row in critical)
    would = said("fly_without_fault", count=max(clean_needed - row.clean for row in critical))
    return CheckResult(State.OPEN, said("open_faults", faults=rows), evidence=evidence, to_meet=would)


def check_second_instructor(history: History, spec: RequirementSpec) -> CheckResult:
    """Check for a stage check, all of it to standard, with an instructor other than the student's own."""
    # The database names none: a reassignment today must not change the verdict of a past day.
    own = own_instructors(history.lessons, history.facts.own_instructor)
    checks = [row for row in history.lessons if row.kind is UnitKind.STAGE_CHECK and row.instructor not in own]
    passed = [row for row in checks if _all_to_standard(history, row)]
    if passed:
        last = passed[-1]
        evidence = (lesson_evidence(last, "flown_with", instructor=last.instructor),)
        far = said("checked_with", instructor=last.instructor)
        return CheckResult(State.MET, far, evidence=evidence, since=passed[0].signed)
    if checks:
        last = checks[-1]
        evidence = (lesson_evidence(last, "flown_with", instructor=last.instructor),)
        return CheckResult(State.OPEN, said("check_not_to_standard"), evidence=evidence, to_meet=said("check_again"))
    return CheckResult(State.OPEN, said("check_not_flown"), to_meet=said("fly_check"))


def _all_to_standard(history: History, lesson: LessonFact) -> bool:
    # From the history and not from the lesson: a circuit that was shown, or flown in another type, is no evidence.
    judged = [history.judge(flown.attempt) for flown in history.attempts if flown.lesson is lesson]
    # all() of nothing is true, and a check in which nothing was graded shows nothing.
    return True in judged and False not in judged
