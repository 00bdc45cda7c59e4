"""The zip of a hand-over file: put together, and opened again with every doubt. Nothing is written to disk.

SHA256SUMS is in the form of the `sha256sum` program, so that the fingerprints can be checked without this project.
"""

import hashlib
import zipfile
import zlib
from collections.abc import Mapping
from io import BytesIO

from grading.exchange.handover.record_format import BadRecord

RECORD, SCHEMA, LESSONS, README = "record.json", "record.schema.json", "lessons.csv", "README.txt"
COMPLETE, PROGRESS = "complete-record.pdf", "progress-sheet.pdf"
CHECKSUMS, SIGNATURE = "SHA256SUMS", "SHA256SUMS.sig"
ALLOWED_NAMES = (RECORD, SCHEMA, LESSONS, README, COMPLETE, PROGRESS, CHECKSUMS, SIGNATURE)
REQUIRED_NAMES = (RECORD, CHECKSUMS)
MAX_BYTES = 30 * 2**20
MAX_UNPACKED_BYTES = 120 * 2**20
ZIP_ERRORS = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    ValueError,
    RuntimeError,
    OverflowError,
)


def pack_zip(files: Mapping[str, bytes]) -> bytes:
    """A zip of these files, the same bytes for the same files."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def build_checksums(files: Mapping[str, bytes]) -> bytes:
    """The manifest: SHA-256 of each file in hex, two spaces, its name."""
    return "".join(f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in files.items()).encode()


def open_archive(content: bytes) -> dict[str, bytes]:
    """The files of a hand-over zip, by name. BadRecord for one that is unsafe, too large, or not what its sums say."""
    if len(content) > MAX_BYTES:
        raise BadRecord([f"The file is larger than {MAX_BYTES // 2**20} MB: no student’s record is."])
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            files = _read_members(archive, _refuse_unexpected(archive.infolist()))
    except ZIP_ERRORS as error:
        if isinstance(error, BadRecord):
            raise
        raise BadRecord([f"This is not a zip file that can be read: {error or type(error).__name__}."]) from error
    _verify_checksums(files)
    return files


def _refuse_unexpected(members: list[zipfile.ZipInfo]) -> list[zipfile.ZipInfo]:
    """Refuses whatever is not one of the few files a hand-over has, so that no name can lead anywhere."""
    names = [member.filename for member in members]
    if len(names) > len(ALLOWED_NAMES) or len(set(names)) < len(names):
        raise BadRecord(
            [f"It holds {len(names)} files: a hand-over file holds each of its {len(ALLOWED_NAMES)} once at most."]
        )
    if strange := [name for name in names if name not in ALLOWED_NAMES]:
        raise BadRecord([f"“{strange[0][:60]}” does not belong in a hand-over file. Upload the file as it was given."])
    if missing := [name for name in REQUIRED_NAMES if name not in names]:
        raise BadRecord([f"{missing[0]} is missing: this is not a hand-over file, or not a whole one."])
    if any(member.flag_bits & 0x1 for member in members):
        raise BadRecord(["It is encrypted: upload it without a password."])
    if any(member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for member in members):
        raise BadRecord(["It is packed in a way that is not used for hand-over files."])
    return members


def _read_members(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    """What each file unpacks to is counted while reading: what the zip says of its sizes is not believed."""
    files: dict[str, bytes] = {}
    left = MAX_UNPACKED_BYTES
    for member in members:
        with archive.open(member) as stream:
            files[member.filename] = stream.read(left + 1)
        left -= len(files[member.filename])
        if left < 0:
            raise BadRecord([f"It unpacks to more than {MAX_UNPACKED_BYTES // 2**20} MB: no student’s record does."])
    return files


def _verify_checksums(files: Mapping[str, bytes]) -> None:
    listed: dict[str, str] = {}
    for line in files[CHECKSUMS].decode("utf-8", "replace").splitlines():
        digest, _, name = line.partition("  ")
        listed[name] = digest
    problems = []
    for name, content in files.items():
        if name in (CHECKSUMS, SIGNATURE):
            continue
        if name not in listed:
            problems.append(f"{name} is not listed in {CHECKSUMS}.")
        elif listed[name] != hashlib.sha256(content).hexdigest():
            problems.append(
                f"{name} is not the file that {CHECKSUMS} speaks of: it was changed after it was given out."
            )
    problems += [f"{name[:60]} is listed in {CHECKSUMS} and missing." for name in listed if name not in files]
    if problems:
        raise BadRecord(problems)
