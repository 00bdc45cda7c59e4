"""Choose what comes next: the open requirements nearest to being met, each with what to fly or do. Pure."""

from dataclasses import dataclass

from grading.rules.readiness.faults import FaultStatus, open_faults
from grading.rules.readiness.history import History
from grading.rules.readiness.verdict import Outcome, State, Verdict

MAX_STEPS = 3  # more than a lesson can work on is a list and no advice
# What is flown moves a student most; what only takes a signature or a document is done beside it.
GROUP_ORDER = ("standard", "consistency", "recency", "training", "papers")


@dataclass(frozen=True, slots=True)
class NextStep:
    """Describe one gap. `missing`: clean attempts still to fly, None where that is not what is missing.

    `manoeuvres`: the codes that the requirement judges, empty where it judges none.
    """

    outcome: Outcome
    missing: int | None
    faults: tuple[FaultStatus, ...]
    manoeuvres: tuple[str, ...] = ()

    @property
    def is_lapsed_paper(self) -> bool:
        return self.outcome.state is State.LAPSED and self.outcome.group == "papers"

    @property
    def what(self) -> str:
        return self.outcome.would_meet or self.outcome.sentence


def next_steps(verdict: Verdict, history: History, most: int = MAX_STEPS) -> list[NextStep]:
    """Return the nearest steps first, `most` of them: by the kind of gap, then by how little is missing.

    A lapsed paper comes before all others, because it keeps the student on the ground.
    """
    steps = [_step(outcome, history) for outcome in verdict.unmet]
    return sorted(steps, key=_rank)[:most]


def _rank(step: NextStep) -> tuple[bool, int, int]:
    # 99: an unknown distance comes after every known one of its kind.
    lapsed = step.outcome.state is State.LAPSED
    return not lapsed, GROUP_ORDER.index(step.outcome.group), step.missing if step.missing is not None else 99


def _step(outcome: Outcome, history: History) -> NextStep:
    missing = outcome.more
    if missing is None and outcome.group == "standard" and outcome.needed is not None and outcome.done is not None:
        missing = max(outcome.needed - outcome.done, 0)
    # By what the requirement judges and not by how its key reads: a school may name its requirements as it likes.
    manoeuvres = history.standard.requirement(outcome.key).manoeuvres
    faults = [row for row in open_faults(history) if row.manoeuvre in manoeuvres]
    return NextStep(outcome, missing, tuple(faults), manoeuvres)
