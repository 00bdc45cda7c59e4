"""Print for many students at once: a person requests the run, workers print it item by item."""

import logging
from collections.abc import Callable, Sequence
from datetime import date, datetime
from functools import partial

from django.conf import settings
from django.db import InterfaceError, OperationalError, transaction
from procrastinate.contrib.django import app

from grading.actions import sheets
from grading.models import PrintRun, PrintRunItem, Sheet
from grading.models.print_run import WAITING_ITEMS
from lessons.models import Enrolment
from school import journal
from school.current import school_day
from school.errors import Refusal
from school.models import Person
from school.permissions import can_print_runs

log = logging.getLogger(__name__)

# The kinds that are printed for many at once, and the action that prints one.
PRINTERS: dict[str, Callable[..., Sheet]] = {
    # Without the list of endorsements: it belongs to an instructor, and the items of a run are students.
    Sheet.Kind.PROGRESS: partial(sheets.print_sheet, kind=Sheet.Kind.PROGRESS),
    Sheet.Kind.COMPLETE: partial(sheets.print_sheet, kind=Sheet.Kind.COMPLETE),
    Sheet.Kind.LOGBOOK: sheets.print_logbook,
}

PRINT_TASK = "print_items"
PRINT_PRIORITY = -10  # whatever else waits is done between two jobs of a run
MAX_PROBLEM_LENGTH = 500


@transaction.atomic
def request_run(
    *,
    kind: str,
    on: date,
    paper: str,
    chosen: PrintRun.Chosen,
    by: Person,
    at: datetime,
    between: tuple[date, date] | None = None,
    picked: Sequence[Enrolment] = (),
) -> PrintRun:
    """Create a run with an item for each chosen student, in order of names, and the jobs that print them.

    `between` are the first and the last day on which training ended, for ENDED only; `picked` for PICKED only.
    """
    _refuse_unless_can_print(by)
    if kind not in PRINTERS:
        raise Refusal("Sheets of this kind are printed one by one.")
    if on > school_day(at):
        raise Refusal("A sheet cannot be for a future day: choose today or an earlier day.")
    if between and between[1] < between[0]:
        raise Refusal("The last day is before the first: change one of them.")
    enrolments = _select_enrolments(chosen, on, between, picked)
    if not enrolments:
        raise Refusal("No student matches, so there is nothing to print: change the choice.")
    run = PrintRun.objects.create(
        kind=kind,
        on=on,
        paper=paper,
        chosen=chosen,
        ended_from=between[0] if between else None,
        ended_until=between[1] if between else None,
        asked_at=at,
        asked_by=by,
    )
    PrintRunItem.objects.bulk_create(
        PrintRunItem(run=run, enrolment=enrolment, position=place) for place, enrolment in enumerate(enrolments, 1)
    )
    # In this transaction: a run that is rolled back leaves no job, and no worker sees a job before its run.
    _defer_first_jobs(run)
    after = {"kind": kind, "on": on, "chosen": chosen, "students": len(enrolments)}
    journal.record(by=by, at=at, what="print run asked for", subject=run, after=after)
    return run


@transaction.atomic
def print_next_item(*, run: PrintRun, at: datetime) -> PrintRunItem | None:
    """Print one item that nobody else is printing; None when nothing waits.

    The item's row is locked until commit: a worker that is killed releases it with its connection, and what it had
    begun is rolled back. A problem of one item is stored with it; a lost database is no problem of the item.
    """
    waiting = (
        PrintRunItem.objects.filter(WAITING_ITEMS, run=run).order_by("position").select_related("enrolment__student")
    )
    # SKIP LOCKED: several workers share a run, and none waits for the item of another.
    item = waiting.select_for_update(skip_locked=True, of=("self",)).first()
    if item is None:
        return None
    try:
        # A savepoint: after a fault of the database inside it the problem can still be saved with the item.
        with transaction.atomic():
            item.sheet = print_item_sheet(run, item.enrolment, at)
    except (OperationalError, InterfaceError):
        # The database is lost, and not this item at fault: the job fails and is tried again.
        raise
    except Refusal as refusal:
        item.problem = str(refusal)[:MAX_PROBLEM_LENGTH]
    # Whatever it is: one student's sheet must not stop those of all others behind it.
    except Exception as fault:
        log.exception("Item %s of print run %s", item.position, run.uid)
        item.problem = f"It could not be printed ({type(fault).__name__}: {fault})"[:MAX_PROBLEM_LENGTH]
    item.save(update_fields=["sheet", "problem"])
    return item


def print_item_sheet(run: PrintRun, enrolment: Enrolment, at: datetime) -> Sheet:
    """Print the sheet of one student in the name of the person who requested the run."""
    return PRINTERS[run.kind](enrolment=enrolment, on=run.on, paper=run.paper, by=run.asked_by, at=at)


@transaction.atomic
def cancel_run(*, run: PrintRun, by: Person, at: datetime) -> PrintRun:
    """Cancel the items that are not printed yet; wait for the sheets being printed, which stay."""
    _refuse_unless_can_print(by)
    run = PrintRun.objects.select_for_update(of=("self",)).get(pk=run.pk)
    # Waits for the rows that workers hold; PostgreSQL then asks the condition again, so a printed item is not left out.
    left_out = PrintRunItem.objects.filter(WAITING_ITEMS, run=run).update(left_out=True)
    if not left_out:
        raise Refusal("Nothing is left to cancel: this run has ended.")
    run.cancelled_at, run.cancelled_by = at, by
    run.save(update_fields=["cancelled_at", "cancelled_by"])
    journal.record(by=by, at=at, what="print run cancelled", subject=run, after={"left out": left_out})
    return run


@transaction.atomic
def retry_run(*, run: PrintRun, by: Person, at: datetime) -> int:
    """Queue the failed items again, and those whose worker never came; return their number."""
    _refuse_unless_can_print(by)
    run = PrintRun.objects.select_for_update(of=("self",)).get(pk=run.pk)
    failed = PrintRunItem.objects.filter(run=run).exclude(problem="")
    # Read before they are emptied: the journal is the only place where they remain.
    problems = {str(position): problem for position, problem in failed.values_list("position", "problem")}
    failed.update(problem="")
    waiting = PrintRunItem.objects.filter(WAITING_ITEMS, run=run).count()
    if not waiting:
        raise Refusal("Nothing is left to print in this run.")
    _defer_first_jobs(run)
    journal.record(by=by, at=at, what="print run tried again", subject=run, before=problems, after={"items": waiting})
    return waiting


def defer_next_job(run: PrintRun) -> None:
    """Queue one more job for what the last one left."""
    _defer_jobs(run, 1)


def _refuse_unless_can_print(by: Person) -> None:
    if not can_print_runs(by):
        raise Refusal("Only the administrator or the chief instructor may print for many students.")


def _select_enrolments(
    chosen: PrintRun.Chosen, on: date, between: tuple[date, date] | None, picked: Sequence[Enrolment]
) -> list[Enrolment]:
    found = Enrolment.objects.order_by("student__family_name", "student__given_name", "student__reference", "pk")
    if chosen == PrintRun.Chosen.ACTIVE:
        return list(found.active(on))
    if chosen == PrintRun.Chosen.ENDED:
        if between is None:
            raise Refusal("Choose the first and the last day on which training ended.")
        return list(found.filter(ended_on__range=between))
    return list(found.filter(pk__in=[enrolment.pk for enrolment in picked]))


def _defer_first_jobs(run: PrintRun) -> None:
    # Also for a short run: a job that finds no waiting item ends at once.
    _defer_jobs(run, settings.PRINT_JOBS_AT_ONCE)


def _defer_jobs(run: PrintRun, jobs: int) -> None:
    task = app.configure_task(PRINT_TASK, priority=PRINT_PRIORITY, allow_unknown=False)
    for _ in range(jobs):
        task.defer(run=run.pk)
