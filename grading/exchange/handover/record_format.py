"""Define the format of record.json in a hand-over file and its JSON Schema, and name what is wrong in one by path."""

from datetime import date, datetime
from typing import Annotated, Any, Literal

import msgspec

FORMAT_VERSION = 1
Line = Annotated[str, msgspec.Meta(min_length=1, max_length=210)]
Short = Annotated[str, msgspec.Meta(max_length=210)]
Number = Annotated[str, msgspec.Meta(min_length=1, max_length=20)]
Text = Annotated[str, msgspec.Meta(max_length=20_000)]
Name = Annotated[str, msgspec.Meta(min_length=1, max_length=100)]
Kind = Annotated[str, msgspec.Meta(pattern="^[a-z_]+$", min_length=1, max_length=40)]
Fingerprint = Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$", description="SHA-256 in hex")]
Previous = Annotated[str, msgspec.Meta(pattern="^([0-9a-f]{64})?$", description="empty for the first of a chain")]
# No record of a lesson comes near it; the largest are the contents of printed sheets.
Canonical = Annotated[str, msgspec.Meta(min_length=2, max_length=2_000_000, description="RFC 8785 text")]
# The highest integer that every reader of JSON holds exactly.
Link = Annotated[int, msgspec.Meta(ge=1, le=2**53 - 1)]
Moment = Annotated[datetime, msgspec.Meta(tz=True)]
Amount = Annotated[int, msgspec.Meta(ge=0, le=10_000_000)]


# An unknown field is refused: a reader would take it for checked, though nothing here knows what it means.
class RecordStruct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    pass


class SchoolEntry(RecordStruct, frozen=True):
    name: Line
    aerodrome: Short


class StudentEntry(RecordStruct, frozen=True):
    given_name: Name
    family_name: Name
    reference: Number
    born: date | None

    @property
    def name(self) -> str:
        return f"{self.given_name} {self.family_name}"


class PersonEntry(RecordStruct, frozen=True):
    name: Line
    reference: Number


class WrittenTestEntry(RecordStruct, frozen=True):
    title: Line
    taken_on: date
    aircraft_type: Line
    topics: list[Short]
    questions: Amount
    wrong: Amount
    reviewed_on: date | None
    given_by: PersonEntry


class EndorsementEntry(RecordStruct, frozen=True):
    kind: Line
    paragraph: Short
    aircraft_type: Line
    text: Text
    given_on: date
    given_by: PersonEntry
    certificate_number: Short
    withdrawn_at: Moment | None


class CompletedUnitEntry(RecordStruct, frozen=True):
    """`how`: flown here, or credited on the strength of earlier training, with the reason."""

    number: Amount
    title: Line
    how: Literal["flown", "credited"]
    reason: Text


class EnrolmentEntry(RecordStruct, frozen=True):
    id: Annotated[str, msgspec.Meta(min_length=36, max_length=36)]
    syllabus: Line
    aircraft_type: Line
    instructor: PersonEntry
    enrolled_on: date
    ended_on: date | None
    end: Short
    units_complete: list[CompletedUnitEntry]
    units: Amount
    written_tests: list[WrittenTestEntry]
    endorsements: list[EndorsementEntry]


class PictureEntry(RecordStruct, frozen=True):
    """A picture or a PDF of a document; `file`: its name in the archive, empty where it was too much to send."""

    media_type: Literal["image/jpeg", "image/png", "application/pdf"]
    sha256: Fingerprint
    file: Annotated[str, msgspec.Meta(max_length=40)]


class PaperEntry(RecordStruct, frozen=True):
    kind: Line
    number: Short
    medical_class: Short
    issued: date
    expires: date | None
    recent_experience_until: date | None
    void_reason: Short
    # Without it a file was written before documents had pictures.
    pictures: list[PictureEntry] = []


class CustodyEntry(RecordStruct, frozen=True):
    """A school that passed the record on, with the seal it set when it took the record in."""

    school: Line
    seal: Link | None
    digest: Previous
    received_at: Moment


class RecordEntry(RecordStruct, frozen=True):
    """A record that became final. digest = SHA-256(previous, line feed, canonical) at the school that sealed it.

    `school` made it; a record copied from paper has no seal of its own. `hands`: who passed it on since, in order.
    """

    kind: Kind
    school: Line
    date: date
    canonical: Canonical
    fingerprint: Fingerprint
    seal: Link | None
    previous: Previous
    digest: Previous
    sealed_at: Moment | None
    hands: list[CustodyEntry]


class TotalsEntry(RecordStruct, frozen=True):
    """Totals in whole minutes, with counts of takeoffs and landings."""

    dual_minutes: Amount
    solo_minutes: Amount
    night_minutes: Amount
    instrument_minutes: Amount
    ground_minutes: Amount
    takeoffs: Amount
    landings: Amount


class SummaryEntry(RecordStruct, frozen=True):
    """A summary that a person reads first; only the records themselves count."""

    lessons: Amount
    flown_here: TotalsEntry
    earlier_training: TotalsEntry
    brought_forward: TotalsEntry
    erased_seals: list[Link]


class RecordFile(RecordStruct, frozen=True):
    """One student's whole record. `records` were sealed at this school, `received` at earlier ones or on paper."""

    format: Literal["student training record"]
    version: Literal[1]
    made_at: Moment
    school: SchoolEntry
    student: StudentEntry
    enrolments: list[EnrolmentEntry]
    papers: list[PaperEntry]
    records: list[RecordEntry]
    received: list[RecordEntry]
    summary: SummaryEntry

    @property
    def all_records(self) -> list[tuple[str, RecordEntry]]:
        """Return each record with its path in the file."""
        return [
            (f"{part}[{place}]", row)
            for part, rows in (("records", self.records), ("received", self.received))
            for place, row in enumerate(rows)
        ]


class BadRecord(ValueError):
    """No part of the file can be used. `problems` has a sentence each for what is wrong and where."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__(" ".join(problems))
        self.problems = problems


def record_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of record.json."""
    return msgspec.json.schema(RecordFile)


def encode_record(record: RecordFile) -> bytes:
    """Encode a record as UTF-8 JSON, indented for a reader."""
    return msgspec.json.format(msgspec.json.encode(record), indent=1) + b"\n"


def decode_record(content: bytes) -> RecordFile:
    """Decode a record; raise BadRecord with the path of a wrong field."""
    record = decode_checked_record(content)
    # Here with its path, because the database would refuse it later with an error of the server.
    if found := find_nul(msgspec.to_builtins(record)):
        raise BadRecord([f"record.json, {found}: it holds a character that no text has (U+0000)."])
    return record


def decode_checked_record(content: bytes) -> RecordFile:
    """Decode a record whose every text was looked through before; raise BadRecord with the path of a wrong field."""
    try:
        return msgspec.json.decode(content, type=RecordFile)
    except msgspec.ValidationError as error:
        # The library names the place after these words; a person looks for it in the file by the path.
        said, _, path = str(error).partition(" - at ")
        where = path.strip("`").removeprefix("$").removeprefix(".")
        raise BadRecord([f"record.json, {where or 'as a whole'}: {said.rstrip('.')}."]) from error
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise BadRecord([f"record.json cannot be read as JSON: {error}."]) from error


def find_nul(value: Any, path: str = "") -> str:
    """Return the path of the first text with a NUL character, which the database cannot store; empty without one."""
    if isinstance(value, str):
        return (path or "as a whole") if "\x00" in value else ""
    below: list[tuple[str, Any]] = []
    if isinstance(value, dict):
        below = [(f"{path}.{key}" if path else str(key), row) for key, row in value.items()]
    elif isinstance(value, list | tuple):
        below = [(f"{path}[{place}]", row) for place, row in enumerate(value)]
    return next((found for name, row in below if (found := find_nul(row, name))), "")
