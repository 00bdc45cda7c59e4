"""Keep pictures and PDF of documents: checked and stripped in the reader of strangers' files, sealed by their hash."""

import base64
import hashlib
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from school import journal
from school.current import school_day
from school.errors import Refusal
from school.file_reader import PATIENCE_SECONDS, Limits, ReadersBusy, UnreadableFile, read_file
from school.formats import write_day
from school.models import AircraftPaper, Attachment, Paper, Person
from school.permissions import can_decide, can_manage_places, can_manage_records
from school.reasons import required_text

# By how a file begins, and never by its name: one that only begins so is refused by its reader.
READERS = {
    b"\xff\xd8\xff": "school.picture_reader:read_jpeg",
    b"\x89PNG\r\n\x1a\n": "school.picture_reader:read_png",
    b"%PDF-": "school.pdf_reader:read_pdf",
}
# A picture of sixty million dots is unpacked at a part of its size; a damaged one must not ask for more.
LIMITS = Limits(cpu_seconds=8, memory_megabytes=700)
# The three documents of an enrolment come in one request, which has a limit of its own (MAX_REQUEST_BYTES).
MAX_UPLOAD_BYTES = 10 * 2**20
# Of one document: front and back, and the pages of a booklet.
MAX_ATTACHMENTS = 12

CHOOSE_AGAIN = "Nothing was saved. What you typed is still here; choose the file again."
OTHER_FILE = (
    "It is neither a JPEG or PNG picture nor a PDF. Take a picture of the document, or save it as one of these."
)
BUSY = "Too many files are being read at this moment. Try again in a minute."


@dataclass(frozen=True)
class CleanFile:
    """A picture or a PDF as it is stored: read, and without what its camera or program wrote into it."""

    media_type: str
    content: bytes


def refuse_not_yet_issued(issued: date, at: datetime) -> None:
    """Refuse a document, of whatever kind, that bears a day to come."""
    if issued > school_day(at):
        raise Refusal(
            f"A document issued on {write_day(issued)} does not exist yet: check that day. Nothing was saved."
        )


def refuse_too_large(size: int) -> None:
    """Refuse a file of so many bytes, before it is read into memory."""
    if size > MAX_UPLOAD_BYTES:
        most = MAX_UPLOAD_BYTES // 2**20
        raise Refusal(f"The file has {size / 2**20:.0f} MB, and {most} MB are the most. {CHOOSE_AGAIN}")


def clean_file(content: bytes) -> CleanFile:
    """Return a stranger's file as it may be stored. Refuses what is no picture and no PDF, or damaged.

    Takes a place of the readers and some seconds: called before the transaction that stores it.
    """
    reader = next((found for start, found in READERS.items() if content.startswith(start)), None)
    if reader is None:
        raise Refusal(f"{OTHER_FILE} {CHOOSE_AGAIN}")
    try:
        found: dict[str, str] = read_file(reader, content, limits=LIMITS, patience=PATIENCE_SECONDS)
    except ReadersBusy as busy:
        raise Refusal(f"{BUSY} {CHOOSE_AGAIN}") from busy
    except UnreadableFile as bad:
        raise Refusal(f"{bad} {CHOOSE_AGAIN}") from bad
    if "refused" in found:
        raise Refusal(f"{found['refused']} {CHOOSE_AGAIN}")
    return CleanFile(found["media_type"], base64.b64decode(found["content"]))


@transaction.atomic
def attach(*, document: Paper | AircraftPaper, file: CleanFile, by: Person, at: datetime) -> Attachment:
    """Store a picture of a document. It stays as it is; a wrong one is withdrawn."""
    if not may_attach(by, document):
        raise Refusal("You may not add pictures of this document. Nothing was saved.")
    if document.voided_at:
        raise Refusal("This document is void: a picture belongs to the entry that replaced it. Nothing was saved.")
    # The document is locked, so that the limit holds for two who add at one moment.
    type(document).objects.select_for_update(of=("self",)).get(pk=document.pk)
    if document.attachments.filter(withdrawn_at=None).count() >= MAX_ATTACHMENTS:
        raise Refusal(f"A document has {MAX_ATTACHMENTS} pictures at most. Nothing was saved.")
    attachment = Attachment.objects.create(
        **{"paper" if isinstance(document, Paper) else "aircraft_paper": document},
        media_type=file.media_type,
        sha256=hashlib.sha256(file.content).hexdigest(),
        size=len(file.content),
        content=file.content,
        recorded_at=at,
        recorded_by=by,
    )
    after = {"form": attachment.get_media_type_display(), "sha256": attachment.sha256, "bytes": attachment.size}
    journal.record(by=by, at=at, what="attachment added", subject=attachment, after=after, derived=False)
    return attachment


@transaction.atomic
def withdraw_attachment(*, attachment: Attachment, reason: str, by: Person, at: datetime) -> Attachment:
    """Withdraw a wrong picture; only who keeps the records opens it from then on."""
    attachment = Attachment.objects.defer("content").select_for_update(of=("self",)).get(pk=attachment.pk)
    if not may_attach(by, attachment.document):
        raise Refusal("You may not withdraw pictures of this document. Nothing was changed.")
    if attachment.withdrawn_at:
        raise Refusal(f"This picture was already withdrawn on {write_day(school_day(attachment.withdrawn_at))}.")
    reason = required_text(reason, "Write why this picture is withdrawn: the reason is kept with it.", most=200)
    attachment.withdrawn_at, attachment.withdrawn_by, attachment.withdraw_reason = at, by, reason
    attachment.save(update_fields=["withdrawn_at", "withdrawn_by", "withdraw_reason"])
    what = "attachment withdrawn"
    journal.record(by=by, at=at, what=what, subject=attachment, after={"reason": reason}, derived=False)
    return attachment


def may_attach(person: Person, document: Paper | AircraftPaper) -> bool:
    """Return whether a person adds and withdraws pictures of a document, as they record it."""
    return can_manage_records(person) if isinstance(document, Paper) else can_manage_places(person)


def may_see(person: Person, document: Paper | AircraftPaper) -> bool:
    """Return whether a person opens the pictures of a document.

    Of a person's: the administrator, the chief instructor, who decides on them, and the person. An instructor reads in
    the record what a document says; a passport of somebody else is nobody's to open who need not.
    """
    if isinstance(document, AircraftPaper):
        return can_manage_places(person)
    own = person.is_active and person.pk == document.person_id
    return can_manage_records(person) or can_decide(person) or own


def may_open(person: Person, attachment: Attachment) -> bool:
    """Return whether a person opens one picture; a withdrawn one only if they could have withdrawn it."""
    document = attachment.document
    return may_attach(person, document) if attachment.withdrawn_at else may_see(person, document)
