"""Stream the sheets of a print run as one ZIP file: whatever its size, one sheet at a time is in memory.

In its one folder: the sheets as stored; SHA256SUMS, which `sha256sum -c` reads; index.csv and index.html for people;
manifest.json with every fingerprint and the link of the chain that was its head when the last sheet was sealed.
Nothing in it depends on the moment of the request, so that the same run is the same bytes each time. Nothing is
compressed: PDFs are already, and another release of the compressor would change the bytes.
"""

import hashlib
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import rfc8785
from django.template.loader import render_to_string

from grading.evidence.lesson_payload import person_reference, utc_timestamp
from grading.models import PrintRun, PrintRunItem, Seal, Sheet
from school import csv_text
from school.current import school_read_once
from school.models import School

FORMAT = 1
# Fixed, because Python writes the system that it runs on into each entry, and the bytes must be the same everywhere.
ZIP_SYSTEM_UNIX, ZIP_FILE_MODE = 3, 0o100644 << 16


@dataclass(frozen=True)
class PrintedEntry:
    """One sheet of the run, without its bytes. `file` is its path in the folder."""

    item: PrintRunItem
    sheet: Sheet
    seal: Seal
    file: str


def folder_name(run: PrintRun) -> str:
    return f"print-run-{run.on.isoformat()}-{run.uid.hex[:8]}"


@school_read_once
def stream_zip(run: PrintRun) -> Iterator[bytes]:
    """Yield the file in pieces. Three queries, and one for each sheet."""
    entries = printed_entries(run)
    # The time of the texts comes from the sheets and not from a clock, for the same reason.
    last = max(entry.sheet.printed_at for entry in entries)
    texts = _texts(run, entries)
    window = _StreamBuffer()
    with zipfile.ZipFile(window, "w") as archive:
        for name, text in texts.items():
            archive.writestr(_info(f"{folder_name(run)}/{name}", last), text)
            yield window.drain()
        for entry in entries:
            # One query a sheet, on purpose: together the files of a run may be larger than the memory.
            pdf = bytes(Sheet.objects.values_list("pdf", flat=True).get(pk=entry.sheet.pk))
            archive.writestr(_info(f"{folder_name(run)}/{entry.file}", entry.sheet.printed_at), pdf)
            yield window.drain()
    yield window.drain()


def printed_entries(run: PrintRun) -> list[PrintedEntry]:
    """Return what was printed, in the order of the run, without the bytes. Two queries."""
    items = list(
        PrintRunItem.objects.filter(run=run, sheet__isnull=False)
        .select_related("sheet", "enrolment__student")
        .defer("sheet__pdf", "sheet__content")
        .order_by("position")
    )
    sheets = [(item, item.sheet) for item in items if item.sheet is not None]
    seals = Seal.objects.filter(kind=Seal.Kind.SHEET, subject__in=[sheet.uid for _, sheet in sheets])
    by_subject = {seal.subject: seal for seal in seals.defer("canonical")}
    return [PrintedEntry(item, sheet, by_subject[sheet.uid], file_name(item, sheet)) for item, sheet in sheets]


def file_name(item: PrintRunItem, sheet: Sheet) -> str:
    """Return letters, digits and hyphens after the place in the run; no person's name, all distinct."""
    reference = re.sub(r"[^A-Za-z0-9]+", "-", item.enrolment.student.reference).strip("-") or "student"
    # The position makes the name unique: two school numbers may be equal once their other characters are hyphens.
    return f"sheets/{item.position:04d}-{reference}-{sheet.kind}-{sheet.number}.pdf"


def build_manifest(run: PrintRun, entries: list[PrintedEntry]) -> bytes:
    """Return RFC 8785 text. `fingerprint` is the SHA-256 of the RFC 8785 text of `sheets`, in hex."""
    sheets: list[Any] = [
        {
            "file": entry.file,
            "student": entry.item.enrolment.student.reference,
            "id": str(entry.sheet.uid),
            "number": entry.sheet.number,
            "printed_at": utc_timestamp(entry.sheet.printed_at),
            "sha256": entry.sheet.digest,
            "seal": {"number": entry.seal.number, "digest": entry.seal.digest},
        }
        for entry in entries
    ]
    # Workers print at the same time, so the last item of the run need not have the last seal.
    last = max((entry.seal for entry in entries), key=lambda seal: seal.number)
    return rfc8785.dumps(
        {
            "format": FORMAT,
            "record": "print run",
            "id": str(run.uid),
            "school": School.objects.get().name,
            "kind": run.get_kind_display(),
            "as_of": run.on.isoformat(),
            "asked_by": person_reference(run.asked_by),
            "asked_at": utc_timestamp(run.asked_at),
            "sheets": sheets,
            "fingerprint": hashlib.sha256(rfc8785.dumps(sheets)).hexdigest(),
            "head_of_chain": {
                "number": last.number,
                "digest": last.digest,
                "sealed_at": utc_timestamp(last.sealed_at),
            },
        }
    )


def _texts(run: PrintRun, entries: list[PrintedEntry]) -> dict[str, bytes]:
    content = build_manifest(run, entries)
    page = render_to_string("print/print_run_index.html", {"run": run, "entries": entries})
    texts = {"index.html": page.encode(), "index.csv": _index(entries), "manifest.json": content}
    sums = [(hashlib.sha256(text).hexdigest(), name) for name, text in texts.items()]
    sums += [(entry.sheet.digest, entry.file) for entry in entries]
    return {"SHA256SUMS": "".join(f"{digest}  {name}\n" for digest, name in sums).encode(), **texts}


def _index(entries: list[PrintedEntry]) -> bytes:
    lines = [csv_text.format_line(["student", "school number", "file", "sheet", "printed at (UTC)", "SHA-256", "seal"])]
    for entry in entries:
        student = entry.item.enrolment.student
        cells = [
            student.name,
            student.reference,
            entry.file,
            str(entry.sheet.number),
            str(utc_timestamp(entry.sheet.printed_at)),
            entry.sheet.digest,
            str(entry.seal.number),
        ]
        # Not by the csv module alone: a name that begins like a formula would be one in a spreadsheet.
        lines.append(csv_text.format_line(cells))
    return "".join(lines).encode()


def _info(name: str, at: datetime) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, at.astimezone(UTC).timetuple()[:6])
    info.create_system, info.external_attr = ZIP_SYSTEM_UNIX, ZIP_FILE_MODE
    return info


class _StreamBuffer(io.RawIOBase):
    """Collect what was written since the buffer was last drained.

    The archive seeks back to the header of the entry that it writes, to put size and checksum there, and never
    further: so no reader needs them after the bytes, which some readers cannot handle.
    """

    def __init__(self) -> None:
        self.drained = 0
        self.buffer = io.BytesIO()

    def seekable(self) -> bool:
        return True

    def writable(self) -> bool:
        return True

    def tell(self) -> int:
        return self.drained + self.buffer.tell()

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        # What was sent cannot be changed: a silent success here would give a broken archive.
        if whence != io.SEEK_SET or offset < self.drained:
            raise io.UnsupportedOperation("these bytes were sent already")
        self.buffer.seek(offset - self.drained)
        return offset

    def write(self, data: bytes) -> int:  # type: ignore[override]
        return self.buffer.write(data)

    def drain(self) -> bytes:
        found = self.buffer.getvalue()
        self.drained += len(found)
        self.buffer = io.BytesIO()
        return found
