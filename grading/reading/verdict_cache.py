"""The verdict of each student as it was last derived is stored here, with the row that the board shows.

It is stored so that the board of an academy is one query, and derived again whenever it may no longer be true.
Everything that a verdict rests on is written with a journal entry; each entry about a student marks the stored verdict
as stale in the same transaction, and an entry about the school marks them all.
"""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from django.db import models, transaction

from grading.models import StoredVerdict
from grading.reading.next_act import next_act_content, tens_content
from grading.reading.student_summary import CIRCUITS_IN_STRIP, StudentSummary, circuit_marks, summarise_students
from grading.rules.readiness.checks.training import count_items_given
from grading.rules.readiness.faults import open_faults
from grading.rules.readiness.stored_form import verdict_from_plain, verdict_to_plain
from grading.rules.readiness.verdict import ENGINE_VERSION
from lessons.models import Enrolment
from school import journal
from school.models import AircraftType, School

# Which form the stored row and verdict have. A row of another form is derived again, as one of another engine is: raise
# it when board_row_content() returns other keys or values of another kind. (1 was HTML and SVG, 2 had rows of parts,
# 3 had no critical faults, 4 no items given, 5 no next act of the board, 6 no expired release,
# 7 no confirmed withdrawal, 8 sentences in the place of keys and values, no missing endorsement.)
FORM = 9
STORED_AS = f"{ENGINE_VERSION}.{FORM}"
DERIVED_AT_ONCE = 500


def invalidate(sender: type[models.Model], subject: models.Model, **more: Any) -> None:
    """Mark as stale what is stored of the student whom a journal entry is about, if it is about one.

    Verdicts rest on the school and on a type too: an entry about one marks all of them.
    """
    student = journal.concerned_person_id(subject)
    if isinstance(subject, School | AircraftType):
        # All in one order, here and below, so that two that lock several enrolments cannot wait for each other.
        list(Enrolment.objects.select_for_update().order_by("pk").values_list("pk"))
        StoredVerdict.objects.update(stale=True)
    elif student is not None:
        # The same lock as in derive_and_store(): who derives meanwhile is waited for, or waits and sees this write.
        list(Enrolment.objects.select_for_update().filter(student=student).order_by("pk").values_list("pk"))
        StoredVerdict.objects.filter(enrolment__student=student).update(stale=True)


@dataclass(frozen=True)
class VerdictDifference:
    """A stored verdict that differs from the one derived again for its day."""

    enrolment: Enrolment
    stored: dict[str, Any]
    derived: dict[str, Any]

    @property
    def words(self) -> str:
        stored, derived = verdict_from_plain(self.stored).headline, verdict_from_plain(self.derived).headline
        return f"{self.enrolment.student}: stored “{stored}”, derived “{derived}”"


def get_or_derive(enrolments: Sequence[Enrolment], on: date) -> dict[int, StoredVerdict]:
    """Return what is stored of each for today; derive it first where it is missing, stale, of another day or form."""
    good = StoredVerdict.objects.filter(enrolment__in=enrolments, on=on, engine=STORED_AS, stale=False)
    # The board shows the row alone; the verdict beside it is many times as long.
    stored = {row.enrolment_id: row for row in good.defer("content")}
    missing = [row for row in enrolments if row.pk not in stored]
    return stored | ({row.enrolment_id: row for row, _ in derive_and_store(missing, on)} if missing else {})


def batched(rows: Sequence[Enrolment], size: int) -> Iterator[Sequence[Enrolment]]:
    """Yield the rows in portions of this size, as itertools.batched() of Python 3.12 does."""
    return (rows[start : start + size] for start in range(0, len(rows), size))


def derive_missing(enrolments: models.QuerySet[Enrolment], on: date) -> None:
    """Derive what is missing, stale, of another day or form among these; one query where nothing is."""
    good = StoredVerdict.objects.filter(enrolment=models.OuterRef("pk"), on=on, engine=STORED_AS, stale=False)
    missing = list(enrolments.filter(~models.Exists(good)).order_by("pk"))
    # In portions: the facts of a whole academy would fill the memory.
    for portion in batched(missing, DERIVED_AT_ONCE):
        derive_and_store(portion, on)


def get_or_derive_one(enrolment: Enrolment, on: date) -> tuple[StoredVerdict, StudentSummary | None]:
    """Return what is stored of one student for today, and what it was derived from if that was done just now."""
    good = StoredVerdict.objects.filter(enrolment=enrolment, on=on, engine=STORED_AS, stale=False).first()
    return (good, None) if good else derive_and_store([enrolment], on)[0]


@transaction.atomic
def derive_and_store(enrolments: Sequence[Enrolment], on: date) -> list[tuple[StoredVerdict, StudentSummary]]:
    """Derive the verdict and the board row of each enrolment and store them."""
    # Locked until the end, so that a write about a student that comes between marks the row that is stored here.
    pks = [row.pk for row in enrolments]
    list(Enrolment.objects.select_for_update().filter(pk__in=pks).order_by("pk").values_list("pk"))
    rows = summarise_students(enrolments, on)
    verdicts = [
        StoredVerdict(
            enrolment=row.enrolment,
            on=on,
            engine=STORED_AS,
            stale=False,
            content=verdict_to_plain(row.verdict),
            row=board_row_content(row),
        )
        for row in rows
    ]
    # `stamp` is among the fields that are written: each derivation has its own, and fragments are cached under it.
    StoredVerdict.objects.bulk_create(
        verdicts,
        update_conflicts=True,
        unique_fields=["enrolment"],
        update_fields=["on", "engine", "stale", "stamp", "content", "row"],
    )
    return list(zip(verdicts, rows, strict=True))


def compare_with_derived(enrolments: Sequence[Enrolment]) -> tuple[int, list[VerdictDifference]]:
    """Return how many stored verdicts count as true, and which of them differ from the one derived for their day."""
    by_pk = {row.pk: row for row in enrolments}
    stored = list(StoredVerdict.objects.filter(enrolment__in=enrolments, stale=False, engine=STORED_AS))
    differences = []
    # Each day by itself: a verdict is true for the day that it was derived for, and no other is compared with it.
    for day in sorted({row.on for row in stored}):
        of_day = {row.enrolment_id: row for row in stored if row.on == day}
        for derived in summarise_students([by_pk[pk] for pk in of_day], day):
            before, content = of_day[derived.enrolment.pk], verdict_to_plain(derived.verdict)
            if before.content != content or before.row != board_row_content(derived):
                differences.append(VerdictDifference(derived.enrolment, before.content, content))
    return len(stored), differences


def board_row_content(row: StudentSummary) -> dict[str, Any]:
    """Return what the board shows of a student, as plain values; what depends on the hour is left to the board."""
    return {
        "ready": row.verdict.ready,
        "headline": row.verdict.headline,
        "open": len(row.verdict.unmet),
        "open_words": row.open_words,
        "waits_for_paper": bool(row.lapsed_papers),
        "band": [
            {"state": str(division["state"]), "opens_stage": bool(division["opens_stage"])}
            for division in row.course.band
        ],
        "here": str(row.course.current_unit),
        "unit": row.course.position,
        "strip": strip_content(row),
        "parts": parts_content(row),
        "items_given": _items_given(row),
        "last_flown": row.last_flown.isoformat() if row.last_flown else None,
        # The limit of the standard of this day, which the board would else read with a query of its own.
        "long_gap_days": row.standard.policy.long_gap_days,
        "close": row.is_close,
        "stuck": row.is_stuck,
        "slips": list(row.slips),
        "papers": [
            {"what": outcome.title, "until": outcome.until.isoformat()}
            for outcome in row.verdict.requirements
            if outcome.group == "papers" and outcome.until is not None
        ],
        "critical_faults": critical_fault_content(row),
        "tens": tens_content(row),
        **next_act_content(row),
    }


def critical_fault_content(row: StudentSummary) -> list[dict[str, Any]]:
    """Return the open critical faults as plain values: name, where it was last seen, clean attempts since."""
    return [
        {
            "name": fault.name,
            "manoeuvre": fault.manoeuvre,
            "lesson": fault.last.lesson.number,
            "circuit": fault.last.circuit.number if fault.last.circuit else None,
            "clean": fault.clean,
            "needed": fault.needed,
        }
        for fault in open_faults(row.history)
        if fault.critical
    ]


def strip_content(row: StudentSummary) -> dict[str, Any] | None:
    """Return the last circuits as plain values for `{% mark_strip %}`; None before the first circuit."""
    circuits = [circuit_marks(circuit) for _, circuit in row.history.circuits[-CIRCUITS_IN_STRIP:]]
    if not circuits:
        return None
    return {
        "circuits": [
            {"number": circuit.number, "parts": {name: asdict(grade) for name, grade in circuit.parts.items()}}
            for circuit in circuits
        ],
        "parts": parts_content(row),
        "words": row.strip_words,
    }


def parts_content(row: StudentSummary) -> dict[str, dict[str, Any]]:
    """Return how far each part is as plain values: attempts looked at, whether it is met, in words."""
    return {
        part: {"judged": len(progress.judged), "met": progress.met, "words": progress.words}
        for part, progress in row.progress.items()
    }


def _items_given(row: StudentSummary) -> dict[str, list[int]]:
    """Return how many items of training each who endorsed for solo gave, and how many there are, by name."""
    givers = {held.given_by.name for held in row.read.endorsements}
    given = {name: count_items_given(row.history, name) for name in sorted(givers)}
    return {name: list(count) for name, count in given.items() if count is not None}
