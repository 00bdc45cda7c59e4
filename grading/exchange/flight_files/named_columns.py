"""Read a table with named columns (CSV): time or date and time, latitude, longitude, and a height.

Which column is which follows from its heading, as loggers, avionics and position reports write it; units stand in
brackets behind it, or after an underscore or a blank. Lines that begin with # are left out.
"""

import csv
import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta, timezone

from grading.exchange.flight_files.fixes import MAX_BAD_LINES, BadTrack, Fix, TrackRead, unreadable

FEET = 0.3048
HEADINGS = {
    "time": ("time", "timestamp", "utc", "datetime", "date time", "utc time", "lcl time", "time utc"),
    "date": ("date", "lcl date", "utc date", "date utc"),
    "offset": ("utcofst", "utc offset", "utc ofst"),
    "latitude": ("lat", "latitude", "lat deg"),
    "longitude": ("lon", "lng", "long", "longitude", "lon deg"),
    "height": (
        "alt",
        "altitude",
        "height",
        "ele",
        "elevation",
        "geoaltitude",
        "altitude gps",
        "gps altitude",
        "altgps",
    ),
    "pressure_height": ("baroaltitude", "pressure altitude", "altp", "altpress"),
}
UNITS = {"ft": FEET, "feet": FEET, "m": 1.0, "metres": 1.0, "meters": 1.0}
# Position reports are told by their columns: their altitudes are by pressure and in feet (common practice).
REPORT_COLUMNS = {"track", "groundspeed", "callsign", "icao24"}
NO_COLUMNS = "This table has no columns for time, latitude and longitude that are known here: name them so."
TOO_MANY_BAD = f"More than {MAX_BAD_LINES} lines of this table have no readable time or place."
Columns = dict[str, tuple[int, float]]


def read_table(content: bytes) -> TrackRead:
    """Return a fix for each line with a time and a place."""
    with unreadable("This table is not written in UTF-8: save it so.", UnicodeDecodeError):
        text = content.decode("utf-8-sig")
    lines = [row for row in text.splitlines() if row.strip() and not row.startswith("#")]
    head = lines[0] if lines else ""
    separator = max(";\t,", key=head.count)
    read = TrackRead("csv", [])
    with unreadable("This table cannot be read: save it as CSV again.", csv.Error):
        rows = csv.reader(lines, delimiter=separator)
        columns = _columns(next(rows, []))
        parse = _number_parser(separator)
        for row in rows:
            read.add(_fix(row, columns, parse))
            if read.left_out > MAX_BAD_LINES:
                raise BadTrack(TOO_MANY_BAD)
    return read


def looks_like_table(content: bytes) -> bool:
    """Return whether the first line of values has headings for a latitude and a longitude."""
    for line in content[:20_000].decode("utf-8-sig", errors="replace").splitlines():
        if line.strip() and not line.startswith("#"):
            names = {_plain(name)[0] for name in re.split(r"[,;\t]", line)}
            return bool(names & set(HEADINGS["latitude"]) and names & set(HEADINGS["longitude"]))
    return False


def _plain(name: str) -> tuple[str, float | None]:
    """Return a heading in plain words, and the metres of its unit where it names one."""
    words = re.sub(r"[^a-z0-9/]+", " ", name.lower()).split()
    factor = UNITS.get(words[-1]) if len(words) > 1 else None
    return " ".join(words[:-1] if factor else words), factor


def _columns(headings: Sequence[str]) -> Columns:
    plain = [_plain(name) for name in headings]
    reports = bool({name for name, _ in plain} & REPORT_COLUMNS)
    found: Columns = {}
    for place, (name, factor) in enumerate(plain):
        kind = next((kind for kind, names in HEADINGS.items() if name in names), None)
        if kind == "height" and reports and not factor and name in ("alt", "altitude"):
            kind, factor = "pressure_height", FEET
        if kind and kind not in found:
            found[kind] = place, factor or 1.0
    if not {"latitude", "longitude"} <= found.keys() or not found.keys() & {"time"}:
        raise BadTrack(NO_COLUMNS)
    return found


def _number_parser(separator: str) -> Callable[[str], float]:
    # A decimal comma only where the comma does not part the columns.
    return float if separator == "," else lambda text: float(text.replace(",", "."))


def _fix(row: list[str], columns: Columns, number: Callable[[str], float]) -> Fix | None:
    def cell(kind: str) -> str:
        place = columns[kind][0] if kind in columns else len(row)
        return row[place].strip() if place < len(row) else ""

    def height(kind: str) -> float | None:
        return number(cell(kind)) * columns[kind][1] if cell(kind) else None

    try:
        at = _moment(cell("date"), cell("time"), cell("offset"))
        return Fix(at, number(cell("latitude")), number(cell("longitude")), height("height"), height("pressure_height"))
    except (ValueError, OverflowError):
        return None


def _moment(day: str, clock: str, offset: str) -> float:
    """Return seconds since 1970; a time without a zone is UTC. ValueError where it cannot be read."""
    if not day and re.fullmatch(r"\d{9,13}(\.\d+)?", clock):
        seconds = float(clock)
        return seconds / 1000 if seconds > 1e11 else seconds
    moment = datetime.fromisoformat(f"{day} {clock}".strip().replace("Z", "+00:00"))
    if match := re.fullmatch(r"([+-]?)(\d{1,2}):(\d{2})", offset):
        behind = timedelta(hours=int(match[2]), minutes=int(match[3]))
        moment = moment.replace(tzinfo=timezone(-behind if match[1] == "-" else behind))
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
