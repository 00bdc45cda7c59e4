"""Read FAI IGC files (Technical Specification for GNSS Flight Recorders, appendix A: H and B records).

The heights of a B record are metres: by pressure to 1,013.25 hPa, and by the receiver over the WGS 84 ellipsoid.
Validity V means that the receiver had no height.
"""

import io
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from grading.exchange.flight_files.fixes import MAX_BAD_LINES, BadTrack, Fix, TrackRead

HALF_A_DAY = timedelta(hours=12)
NO_DATE = "This IGC file has no date (HFDTE record), so its times belong to no day: export it again."
TOO_MANY_BAD = f"More than {MAX_BAD_LINES} lines of this IGC file are damaged: export it from the logger again."


def read_igc(content: bytes) -> TrackRead:
    """Return the fixes of the B records. Names in the header are not read."""
    from aerofiles.igc.reader import LowLevelReader  # noqa: PLC0415 - needed in the reader's process alone

    wanted = [row for row in content.decode("latin-1").splitlines() if row[:1] == "B" or row[:5] == "HFDTE"]
    read, day, last = TrackRead("igc", []), None, None
    for kind, record, error in LowLevelReader(io.StringIO("\n".join(wanted))):
        if kind == "H" and not error and day is None:
            day = _day(record)
        if kind != "B":
            continue
        if day is None:
            raise BadTrack(NO_DATE)
        moment = None if error else _moment(day, record["time"], last)
        if moment is None:
            read.left_out += 1
        else:
            # Past midnight the times begin anew and the date of the header stays.
            read.add(_fix(moment, record))
            day, last = moment.date(), moment
        if read.left_out > MAX_BAD_LINES:
            raise BadTrack(TOO_MANY_BAD)
    if day is None:
        raise BadTrack(NO_DATE)
    return read


def _day(record: dict[str, Any]) -> date | None:
    found = record.get("utc_date")
    return found if isinstance(found, date) else None


def _moment(day: date, clock: time, last: datetime | None) -> datetime | None:
    """Return when a record was written; None for one that repeats a second or goes back."""
    moment = datetime.combine(day, clock.replace(tzinfo=None), UTC)
    if last is None or moment > last:
        return moment
    return moment + timedelta(days=1) if last - moment > HALF_A_DAY else None


def _fix(moment: datetime, record: dict[str, Any]) -> Fix:
    satellite = float(record["gps_alt"]) if record["validity"] == "A" else None
    # A logger without a pressure sensor writes zeros (common practice): a column of zeros is left out in read.py.
    return Fix(moment.timestamp(), record["lat"], record["lon"], satellite, float(record["pressure_alt"]))
