"""Check one part of the circuit by the rule of its requirement: a share of the last attempts, or a row."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice, takewhile

from grading.rules.readiness.evidence import flown_evidence
from grading.rules.readiness.facts import LessonFact
from grading.rules.readiness.history import FlownAttempt, History
from grading.rules.readiness.sentences import say
from grading.rules.readiness.standard import RequirementSpec, StandardError
from grading.rules.readiness.success_rules import Row, Share, SuccessRule, rule_of
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.said import Said, said

Judged = tuple[FlownAttempt, bool]


@dataclass(frozen=True, slots=True)
class PartProgress:
    """Say how far one part is. `judged`: the attempts that its rule looks at, oldest first, with what each was.

    done: the good ones among them; more: the fewest good attempts after which the rule holds, 0 where it does.
    """

    part: str
    rule: SuccessRule
    judged: tuple[Judged, ...]
    done: int
    more: int
    met: bool

    @property
    def needed(self) -> int:
        return self.rule.good if isinstance(self.rule, Share) else self.rule.needed

    @property
    def words(self) -> str:
        """Return how far it is, as '8 of the last 10' or '2 in a row'."""
        return say(self.far)

    @property
    def far(self) -> Said:
        if isinstance(self.rule, Row):
            return self.with_brought(said("in_a_row", done=self.done))
        if len(self.judged) < self.rule.last:
            return self.with_brought(said("so_far", done=self.done, flown=len(self.judged)))
        return self.with_brought(said("of_the_last", done=self.done, last=self.rule.last))

    def with_brought(self, far: Said) -> Said:
        """Return how far it is with what of it was brought forward, which is said wherever that is."""
        return said("with_brought", far=far, brought=len(self.brought)) if self.brought else far

    @property
    def brought(self) -> list[FlownAttempt]:
        """Return the attempts from before this record among those that are judged."""
        return [flown for flown, _ in self.judged if flown.lesson.is_brought_forward]

    @property
    def misses(self) -> list[FlownAttempt]:
        return [flown for flown, good in self.judged if not good]


def measure_part(history: History, part: str, rule: SuccessRule) -> PartProgress:
    """Return how far a part of the circuit is by a rule."""
    newest = history.newest_evidence(part)
    looked_at = islice(newest, rule.last) if isinstance(rule, Share) else takewhile(_is_good, newest)
    judged = (*looked_at,)[::-1]
    outcomes = [(flown.lesson.number, good) for flown, good in judged]
    return PartProgress(part, rule, judged, rule.done(outcomes), rule.fewest_more(outcomes), rule.is_met(outcomes))


def progress_by_part(history: History) -> dict[str, PartProgress]:
    """Return how far each part is that the standard asks for, in the order flown; derived once."""
    return history.derive_once(_derive_progress)


def _derive_progress(history: History) -> dict[str, PartProgress]:
    return {part: measure_part(history, part, rule) for part, rule in history.rules.items()}


def _is_good(judged: Judged) -> bool:
    return judged[1]


def check_part(history: History, spec: RequirementSpec) -> CheckResult:
    """Check one part of the circuit, to standard, by the share or the row that the requirement asks for."""
    part, rule = spec.words("part")[0], rule_of(spec)
    if rule is None:
        raise StandardError(f"{spec.key}: “{spec.check}” is no rule for a part of the circuit")
    known = progress_by_part(history).get(part)
    progress = known if known is not None and known.rule == rule else measure_part(history, part, rule)
    evidence = _evidence(progress) + _brought_evidence(history, progress)
    if progress.met:
        since = _met_since(history, part, rule).signed
        decided = history.facts.brought_forward
        # Before the decision that counts them nothing rested on what was brought forward.
        if since and decided and progress.brought:
            since = max(since, decided.on)
        return CheckResult(State.MET, progress.far, progress.done, progress.needed, evidence, since=since)
    return CheckResult(
        State.OPEN,
        _far(progress),
        progress.done,
        progress.needed,
        evidence,
        _to_meet(progress),
        more=progress.more,
    )


def _far(progress: PartProgress) -> Said:
    far, rule = progress.far, progress.rule
    lessons = {flown.lesson.number for flown, good in progress.judged if good}
    if progress.done < progress.needed:
        if isinstance(rule, Share):
            return far
        return progress.with_brought(said("of_needed", done=progress.done, needed=progress.needed))
    if isinstance(rule, Share) and len(progress.judged) < rule.last:
        return said("more_required", far=far, last=rule.last)
    if not progress.judged[-1][1]:
        return said("newest_not", far=far)
    if len(lessons) == 1:
        return said("in_one_lesson", far=far)
    return said("in_few_lessons", far=far, lessons=len(lessons), needed=rule.lessons)


def _to_meet(progress: PartProgress) -> Said:
    key = "fly_in_a_row" if isinstance(progress.rule, Row) else "fly"
    lessons = {flown.lesson.number for flown, good in progress.judged if good}
    if progress.done and len(lessons) < progress.rule.lessons:
        key += "_in_another_lesson"
    return said(key, attempts=said(f"more_{progress.part}", count=progress.more))


def _met_since(history: History, part: str, rule: SuccessRule) -> LessonFact:
    """Return the lesson at whose end the rule first held, of those at whose ends it has held without a break."""
    newest = history.newest_evidence(part)
    seen: list[Judged] = []
    place, met_by = 0, None
    while True:
        _pull(newest, seen, place, rule)
        behind = [(flown.lesson.number, good) for flown, good in reversed(seen[place:])]
        if not rule.is_met(behind):
            break
        met_by = seen[place][0].lesson
        # On to the newest attempt of the lesson before.
        while place < len(seen) and seen[place][0].lesson is met_by:
            place += 1
            _pull(newest, seen, place, rule)
    assert met_by is not None  # asked only of a rule that is met
    return met_by


def _pull(newest: Iterator[Judged], seen: list[Judged], place: int, rule: SuccessRule) -> None:
    """Read on until the rule can be asked of what lies behind a place, newest first."""
    if isinstance(rule, Share):
        seen += islice(newest, max(place + rule.last - len(seen), 0))
    elif not seen:
        # A row is judged up to the first miss, which itself is kept so that nothing behind it is taken for the row.
        for judged in newest:
            seen.append(judged)
            if not judged[1]:
                break


def _brought_evidence(history: History, progress: PartProgress) -> tuple[Evidence, ...]:
    """Say which evidence was brought forward, and by whose decision."""
    decided, brought = history.facts.brought_forward, progress.brought
    if decided is None or not brought:
        return ()
    lessons = len({flown.lesson.number for flown in brought})
    numbers = {"brought": len(brought), "judged": len(progress.judged), "count": lessons}
    reason = decided.reason.rstrip(".")
    return (Evidence(said("brought_forward", **numbers, by=decided.by, on=decided.on, reason=reason)),)


def _evidence(progress: PartProgress) -> tuple[Evidence, ...]:
    """Return where the attempts that are judged begin and end, then each that was not to standard."""
    if not progress.judged:
        return ()
    flown = [row for row, _ in progress.judged]
    ends = [("from", flown[0]), ("to", flown[-1])] if len(flown) > 1 else [("from", flown[0])]
    missed = [("missed", row) for row in progress.misses]
    return tuple(flown_evidence(row, key) for key, row in [*ends, *missed])
