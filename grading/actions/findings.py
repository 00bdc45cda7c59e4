"""Mark a finding as done for a reason, and open it again."""

from datetime import datetime

from django.db import transaction

from grading.models import SettledFinding
from grading.reading.inspection_facts import collect_findings, collect_instructor_findings
from grading.rules.inspection import FINDING_KINDS, Finding
from lessons.models import Enrolment
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_settle_findings
from school.reasons import required_text

REASON_LENGTH = 500


@transaction.atomic
def settle_finding(
    *, whose: Enrolment | Person, fingerprint: str, reason: str, by: Person, at: datetime
) -> SettledFinding:
    """Mark a finding of an enrolment, or of an instructor, as done. It comes back once its facts are others."""
    _refuse_unless_office(by)
    # The one about whom it is, so that two who mark the same finding come after each other.
    type(whose)._default_manager.select_for_update().filter(pk=whose.pk).get()
    finding = _find(whose, fingerprint, at)
    if not finding.can_be_settled:
        raise Refusal("A release is in force without its endorsement: withdraw it, or let the instructor endorse.")
    if SettledFinding.objects.filter(facts=fingerprint, reopened_at=None).exists():
        raise Refusal("Somebody has already marked this finding as done.")
    row = SettledFinding.objects.create(
        enrolment=whose if isinstance(whose, Enrolment) else None,
        person=whose if isinstance(whose, Person) else None,
        kind=finding.kind,
        on=finding.on,
        facts=fingerprint,
        reason=required_text(reason, "Write why nothing is left to be done.", REASON_LENGTH),
        settled_at=at,
        settled_by=by,
    )
    kind = FINDING_KINDS[finding.kind].title
    after = {"kind": kind, "day": finding.on, "reason": row.reason}
    journal.record(by=by, at=at, what="finding marked as done", subject=row, after=after, derived=False)
    return row


@transaction.atomic
def reopen_finding(*, settled: SettledFinding, by: Person, at: datetime) -> SettledFinding:
    """Open a finding again that was marked as done; the reason stays in the journal."""
    _refuse_unless_office(by)
    row = SettledFinding.objects.select_for_update(of=("self",)).get(pk=settled.pk)
    if row.reopened_at:
        raise Refusal("This finding is open again already.")
    row.reopened_at, row.reopened_by = at, by
    row.save(update_fields=["reopened_at", "reopened_by"])
    journal.record(by=by, at=at, what="finding opened again", subject=row, derived=False)
    return row


def _refuse_unless_office(by: Person) -> None:
    if not can_settle_findings(by):
        raise Refusal("Only the chief instructor or the administrator marks a finding as done.")


def _find(whose: Enrolment | Person, fingerprint: str, at: datetime) -> Finding:
    found = (
        collect_findings([whose], at) if isinstance(whose, Enrolment) else collect_instructor_findings(at, only=whose)
    )
    for finding in found:
        if finding.fingerprint == fingerprint:
            return finding
    raise Refusal("This finding is not there any more, or its facts have changed: read the list again.")
