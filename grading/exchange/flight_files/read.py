"""Read a flight track by what is in the file and never by its name, in a process of its own (school.file_reader)."""

import re
from typing import Any

from grading.exchange.flight_files.fixes import MAX_BYTES, MAX_SPAN_SECONDS, BadTrack, TrackRead
from grading.exchange.flight_files.gpx import read_gpx
from grading.exchange.flight_files.igc import read_igc
from grading.exchange.flight_files.kml import read_kml
from grading.exchange.flight_files.named_columns import looks_like_table, read_table

LEAST_FIXES = 30
# Far more than the tags of the fixes that are allowed: a file of tags alone costs memory before a point is counted.
MAX_TAGS = 1_500_000
# No tag of a track is as long; one of a million attributes takes a reader of XML the square of them.
LONG_TAG = re.compile(rb"<[^<>]{4000}")
UNKNOWN = (
    "This is no flight track that can be read here: GPX, FAI IGC, KML with times, or a CSV table with columns for"
    " time, latitude and longitude."
)
HOSTILE = "This file declares a document type or entities, which no track needs: export it from the logger again."
WIDE_CHARACTERS = "This file is not written in UTF-8: export it from the logger again."


def read_flight_file(content: bytes) -> dict[str, Any]:
    """Return the fixes, sorted by time, or the problem in a sentence.

    {"problem": "", "form": "gpx", "left_out": 3, "fixes": [[seconds, latitude, longitude, height, pressure height]]}
    """
    try:
        read = _read(content)
        _check(read)
    except BadTrack as bad:
        return {"problem": str(bad)}
    fixes = sorted(set(read.fixes), key=lambda fix: fix.at)
    if all(not fix.pressure_height for fix in fixes):
        fixes = [fix._replace(pressure_height=None) for fix in fixes]
    return {"problem": "", "form": read.form, "left_out": read.left_out, "fixes": [list(fix) for fix in fixes]}


def _read(content: bytes) -> TrackRead:
    if len(content) > MAX_BYTES:
        raise BadTrack(f"This file is larger than {MAX_BYTES // 2**20} MB: cut it to the lesson.")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in content:
        raise BadTrack(WIDE_CHARACTERS)
    start = content[:4000].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start.startswith(b"<"):
        return _read_markup(content, start)
    if re.search(rb"^HFDTE", content, re.MULTILINE) or re.match(rb"A[A-Z0-9]{3}", start):
        return read_igc(content)
    if looks_like_table(content):
        return read_table(content)
    raise BadTrack(UNKNOWN)


def _read_markup(content: bytes, start: bytes) -> TrackRead:
    if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
        raise BadTrack(HOSTILE)
    if content.count(b"<") > MAX_TAGS or LONG_TAG.search(content):
        raise BadTrack("This file has far more in it than a lesson: cut it to the lesson.")
    root = re.search(rb"<(?:[A-Za-z_][\w.-]*:)?(gpx|kml)[\s>]", start)
    if not root:
        raise BadTrack(UNKNOWN)
    return read_gpx(content) if root[1] == b"gpx" else read_kml(content)


def _check(read: TrackRead) -> None:
    if len(read.fixes) < LEAST_FIXES:
        raise BadTrack(f"This file has fewer than {LEAST_FIXES} positions with a time: it holds no lesson.")
    times = [fix.at for fix in read.fixes]
    if max(times) - min(times) > MAX_SPAN_SECONDS:
        raise BadTrack("This file spans more than 24 hours: cut it to the lesson.")
