"""Pack the zip of a hand-over file, and open one without trusting it. Nothing is written to disk.

SHA256SUMS is in the form of the `sha256sum` program, so that the fingerprints can be checked without this project.
"""

import hashlib
import re
import zipfile
import zlib
from collections.abc import Mapping
from io import BytesIO

from grading.exchange.handover.record_format import BadRecord

RECORD, SCHEMA, LESSONS, README = "record.json", "record.schema.json", "lessons.csv", "README.txt"
COMPLETE, PROGRESS = "complete-record.pdf", "progress-sheet.pdf"
CHECKSUMS, SIGNATURE = "SHA256SUMS", "SHA256SUMS.sig"
# Pictures of documents, each by the beginning of its SHA-256.
PICTURE_NAME = re.compile(r"document-[0-9a-f]{16}\.(jpg|png|pdf)")
MAX_PICTURES = 60
MAX_PICTURE_BYTES = 20 * 2**20
ALLOWED_NAMES = (RECORD, SCHEMA, LESSONS, README, COMPLETE, PROGRESS, CHECKSUMS, SIGNATURE)
REQUIRED_NAMES = (RECORD, CHECKSUMS)
# A record with its largest sheet is far smaller. The second bound is for a small file that unpacks to a huge one.
MAX_BYTES = 30 * 2**20
MAX_UNPACKED_BYTES = 120 * 2**20
# A damaged or hostile zip fails in any of these ways inside the library; none is a fault of this program.
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
    """Pack these files into a zip; the same files give the same bytes."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            # An entry without a date, so that the bytes do not depend on the clock.
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def build_checksums(files: Mapping[str, bytes]) -> bytes:
    """Build the manifest: for each file its SHA-256 in hex, two spaces and its name."""
    return "".join(f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in files.items()).encode()


def open_archive(content: bytes) -> dict[str, bytes]:
    """Return the files of a hand-over zip by name; raise BadRecord for one that is unsafe, too large or altered."""
    if len(content) > MAX_BYTES:
        raise BadRecord([f"The file is larger than {MAX_BYTES // 2**20} MB: no student’s record is."])
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            files = _read_members(archive, _refuse_unexpected(archive.infolist()))
    except ZIP_ERRORS as error:
        # It is a ValueError too, and its own sentences say more than the one below.
        if isinstance(error, BadRecord):
            raise
        raise BadRecord([f"This is not a zip file that can be read: {error or type(error).__name__}."]) from error
    _verify_checksums(files)
    return files


def _refuse_unexpected(members: list[zipfile.ZipInfo]) -> list[zipfile.ZipInfo]:
    """Refuse any name that a hand-over file does not have, so that no name can lead out of a folder."""
    names = [member.filename for member in members]
    # A name that is there twice is read differently by different programs: one text could be checked and another shown.
    pictures = [name for name in names if PICTURE_NAME.fullmatch(name)]
    if len(names) - len(pictures) > len(ALLOWED_NAMES) or len(set(names)) < len(names) or len(pictures) > MAX_PICTURES:
        raise BadRecord(
            [
                f"It holds {len(names)} files: a transfer file holds each of its {len(ALLOWED_NAMES)} once at most, and"
                f" {MAX_PICTURES} pictures."
            ]
        )
    if strange := [name for name in names if name not in (*ALLOWED_NAMES, *pictures)]:
        raise BadRecord(
            [f"“{strange[0][:60]}” does not belong in a transfer file. Upload the file exactly as you received it."]
        )
    if missing := [name for name in REQUIRED_NAMES if name not in names]:
        raise BadRecord([f"{missing[0]} is missing: this is not a transfer file, or it is incomplete."])
    if any(member.flag_bits & 0x1 for member in members):
        raise BadRecord(["The file is encrypted: upload it without a password."])
    if any(member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for member in members):
        raise BadRecord(["The file is compressed in a way that transfer files do not use."])
    return members


def _read_members(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    """Count what each file unpacks to while reading, because the sizes that the zip states are not trusted."""
    files: dict[str, bytes] = {}
    left = MAX_UNPACKED_BYTES
    for member in members:
        with archive.open(member) as stream:
            # One byte more than is allowed tells a file that is too large, without unpacking the rest.
            files[member.filename] = stream.read(left + 1)
        left -= len(files[member.filename])
        if left < 0:
            raise BadRecord([f"It unpacks to more than {MAX_UNPACKED_BYTES // 2**20} MB: no student’s record does."])
    return files


def _verify_checksums(files: Mapping[str, bytes]) -> None:
    listed: dict[str, str] = {}
    # A strange byte is replaced and not an error: that line then matches no file, and the person gets a sentence by
    # name.
    for line in files[CHECKSUMS].decode("utf-8", "replace").splitlines():
        digest, _, name = line.partition("  ")
        listed[name] = digest
    problems = []
    for name, content in files.items():
        # The manifest cannot contain its own digest, and the signature is made over the manifest.
        if name in (CHECKSUMS, SIGNATURE):
            continue
        if name not in listed:
            problems.append(f"{name} is not listed in {CHECKSUMS}.")
        elif listed[name] != hashlib.sha256(content).hexdigest():
            problems.append(f"{name} is not the file that {CHECKSUMS} names: it was changed after it was exported.")
    problems += [f"{name[:60]} is listed in {CHECKSUMS} and missing." for name in listed if name not in files]
    if problems:
        raise BadRecord(problems)
