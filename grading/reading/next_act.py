"""Say what is next for a student on the board: who acts, the nearest gap, the last ten attempts of each part."""

from datetime import date
from enum import IntEnum
from itertools import islice
from typing import Any

from grading.reading.expiring import expiries_of_student
from grading.reading.release_status import ReleasePhase, ReleaseStatus
from grading.reading.student_summary import LESSONS_WITHOUT_PROGRESS, StudentSummary
from grading.rules.readiness.checks.parts import PartProgress
from grading.rules.readiness.facts import COUNTED_PARTS
from grading.rules.readiness.success_rules import Share

ATTEMPTS_SHOWN = 10


class NextAct(IntEnum):
    """The groups of the board in the order in which somebody must act."""

    WITHDRAWN = 0
    DECISION = 1
    RELEASE_ENDS = 2
    EXPIRED = 3
    ENDORSEMENT = 4
    DOCUMENT = 5
    CLOSE = 6
    SLIPPED = 7
    STUCK = 8
    BEFORE_SOLO = 9
    RELEASED = 10
    NO_CIRCUITS = 11


def tens_content(row: StudentSummary) -> dict[str, dict[str, Any]]:
    """Return the last ten attempts of each part, "1" to standard and "0" not, oldest first, and how far the rule is."""
    content: dict[str, dict[str, Any]] = {}
    for part in COUNTED_PARTS:
        newest = [good for _, good in islice(row.history.newest_outcomes(part), ATTEMPTS_SHOWN)]
        progress = row.progress.get(part)
        content[part] = {
            "outcomes": "".join("1" if good else "0" for good in reversed(newest)),
            "good": progress.done if progress else sum(newest),
            "met": bool(progress and progress.met),
            "more": progress.more if progress else 0,
            "words": progress.words if progress else "",
        }
    return content


def next_act_content(row: StudentSummary) -> dict[str, Any]:
    """Return who acts, the nearest gap and its part, the release, and whether a document ends soon; plain values."""
    act = next_act(row)
    part = nearest_part(row)
    papers = [(o.title, o.until) for o in row.verdict.requirements if o.group == "papers" and o.until is not None]
    return {
        "act": int(act),
        # The order inside a group: the fewest attempts to go first, else the fewest requirements.
        "to_go": sum(progress.more for progress in row.progress.values()) or len(row.verdict.unmet),
        "gap": _gap_words(row, act, part),
        "gap_part": _gap_part(row, act, part),
        "released": _release_content(row),
        "release": _phase_content(row.status),
        "documents": bool(row.lapsed_papers or expiries_of_student(row.enrolment.student, papers, None, row.on)),
    }


def next_act(row: StudentSummary) -> NextAct:
    """Return the first group that a student belongs to."""
    phase = row.status.phase if row.status else None
    belongs = {
        NextAct.RELEASE_ENDS: phase is ReleasePhase.EXPIRING,
        NextAct.RELEASED: phase is ReleasePhase.RELEASED,
        NextAct.WITHDRAWN: phase is ReleasePhase.WITHDRAWN,
        # A release rests on the endorsement (14 CFR 61.87(n)): without one nobody can decide yet.
        NextAct.DECISION: row.verdict.ready and row.is_endorsed,
        NextAct.ENDORSEMENT: row.verdict.ready,
        NextAct.EXPIRED: phase is ReleasePhase.EXPIRED,
        NextAct.DOCUMENT: bool(row.lapsed_papers),
        NextAct.CLOSE: row.is_close,
        NextAct.SLIPPED: bool(row.slips),
        NextAct.STUCK: row.is_stuck,
        NextAct.NO_CIRCUITS: not row.history.circuits,
    }
    return next((act for act, holds in belongs.items() if holds), NextAct.BEFORE_SOLO)


def nearest_part(row: StudentSummary) -> PartProgress | None:
    """Return the open part with the fewest good attempts to go, the first flown of equals."""
    unmet = [progress for progress in row.progress.values() if not progress.met]
    return min(unmet, key=lambda progress: progress.more, default=None)


def part_gap_words(progress: PartProgress) -> str:
    """Return 'Landing 8 of 10: at least 2 more', the fewest good attempts in a row until the rule holds."""
    name = progress.part.capitalize()
    if isinstance(progress.rule, Share) and progress.judged:
        far = f"{name} {progress.done} of {len(progress.judged)}"
        if progress.done >= progress.rule.good and not progress.judged[-1][1]:
            return f"{far}, newest not to standard"
        return f"{far}: at least {progress.more} more"
    return f"{name}: at least {progress.more} more"


def _gap_part(row: StudentSummary, act: NextAct, part: PartProgress | None) -> str:
    """Return the part that the sentence is about; empty where it is about something else."""
    if act is NextAct.SLIPPED:
        return next(iter(row.slips))
    return part.part if part and act in (NextAct.CLOSE, NextAct.STUCK, NextAct.BEFORE_SOLO) else ""


def _gap_words(row: StudentSummary, act: NextAct, part: PartProgress | None) -> str:
    if row.status and act in (NextAct.WITHDRAWN, NextAct.RELEASE_ENDS, NextAct.EXPIRED):
        return _release_words(row.status)
    if act is NextAct.DECISION:
        since = f" since {day_words(row.verdict.since)}" if row.verdict.since else ""
        met = f"ll {len(row.verdict.requirements)} met{since}"
        return f"{row.status.words}; a{met}" if row.status else f"A{met}"
    if act is NextAct.ENDORSEMENT:
        gap = f"{row.endorsement_gap}: {row.enrolment.instructor} endorses"
        return f"{row.status.words}. {gap}" if row.status else gap
    if act is NextAct.RELEASED:
        return f"{len(row.verdict.unmet)} open since the release" if row.verdict.unmet else "Released for solo"
    if act is NextAct.DOCUMENT:
        return row.lapsed_papers[0].sentence
    if act is NextAct.NO_CIRCUITS:
        return "No circuits flown yet"
    if act is NextAct.SLIPPED:
        name, flown = next(iter(row.slips.items()))
        progress = row.progress.get(name)
        far = f" to {progress.done} of {len(progress.judged)}" if progress and progress.judged else ""
        return f"{name.capitalize()} slipped{far} in lesson {flown.lesson.number}"
    words = part_gap_words(part) if part else min(row.verdict.unmet, key=lambda outcome: outcome.more or 0).sentence
    if act is NextAct.STUCK:
        return f"{words.split(':')[0]}, stuck for {LESSONS_WITHOUT_PROGRESS} lessons"
    return words


def _release_content(row: StudentSummary) -> dict[str, Any] | None:
    given = row.release
    if given is None:
        return None
    return {
        "until": given.valid_until.isoformat(),
        "wind": given.max_wind_kt,
        "crosswind": given.max_crosswind_kt,
        "runways": given.runways,
    }


def _phase_content(status: ReleaseStatus | None) -> dict[str, Any] | None:
    if status is None:
        return None
    until = status.last_day.isoformat()
    return {"phase": status.phase, "until": until, "unconfirmed": status.is_unconfirmed}


def _release_words(status: ReleaseStatus) -> str:
    if status.phase is ReleasePhase.WITHDRAWN:
        by = status.release.withdrawn_by
        return f"Release withdrawn {day_words(status.withdrawn_on)}, {by}: {status.reason}"
    if status.next_begins:
        return f"{status.words}; no solo {status.until_when}" if status.is_over else status.words
    if status.phase is ReleasePhase.EXPIRED:
        return f"{status.words}: renew or close"
    return f"Release expires {status.days_words}: renew or close"


def day_words(day: date | None) -> str:
    """Return a day as on every page: 28 Nov 2026."""
    return f"{day.day} {day:%b %Y}" if day else ""


def days_words(days: int) -> str:
    """Return 'today', '1 day' or '15 days'."""
    return "today" if days == 0 else f"{days} day{'' if days == 1 else 's'}"
