"""Making a progress sheet: its content is frozen, printed once, sealed and kept."""

import hashlib
import uuid as uuids
from datetime import date, datetime

from django.db import transaction
from django.db.models import Max

from grading import printing, records, sealing
from grading.models import Seal, Sheet
from grading.pages.sheet import sheet_content
from lessons.models import Enrolment
from school import journal
from school.models import Person


@transaction.atomic
def print_progress_sheet(*, enrolment: Enrolment, on: date, paper: str, by: Person, at: datetime) -> Sheet:
    """The picture of a student on a day, from what had been signed by then."""
    Enrolment.objects.select_for_update(of=("self",)).get(pk=enrolment.pk)  # one number at a time
    last = (
        Sheet.objects.filter(enrolment=enrolment, kind=Sheet.Kind.PROGRESS).aggregate(last=Max("number"))["last"] or 0
    )
    uid = uuids.uuid4()
    content = sheet_content(enrolment, on) | {
        "number": last + 1,
        "id": str(uid),
        "printed_by": records.person(by),
        "printed_at": records.moment(at),
    }
    sealed = sealing.seal(
        kind=Seal.Kind.SHEET,
        subject=uid,
        record={"format": records.FORMAT, "record": "progress sheet", **content},
        at=at,
    )
    content["seal"] = {"number": sealed.number, "digest": sealed.digest}
    pdf = printing.pdf(printing.sheet_html(content, paper))
    made = Sheet.objects.create(
        uid=uid,
        enrolment=enrolment,
        number=last + 1,
        on=on,
        paper=paper,
        content=content,
        pdf=pdf,
        digest=hashlib.sha256(pdf).hexdigest(),
        printed_at=at,
        printed_by=by,
    )
    journal.record(by=by, at=at, what="progress sheet printed", subject=made, after={"number": made.number})
    return made
