"""Write the positions of a kept track as GPX 1.1 (topografix.com/GPX/1/1), which any program for tracks reads."""

from collections.abc import Iterator
from datetime import UTC, datetime

from lessons.rules.flight_track.flight import Fixes

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="training record"'
    ' xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>\n'
)
FOOT = "</trkseg></trk></gpx>\n"


def write_gpx(fixes: Fixes) -> str:
    """Return the track in one segment; times in UTC to a tenth of a second, heights in metres as they were read."""
    return HEAD + "".join(_points(fixes)) + FOOT


def _points(fixes: Fixes) -> Iterator[str]:
    rows = zip(fixes.seconds, fixes.latitude, fixes.longitude, fixes.height, strict=True)
    for seconds, latitude, longitude, height in rows:
        moment = datetime.fromtimestamp(round(float(seconds), 1), UTC).isoformat(timespec="milliseconds")
        place = f'lat="{latitude:.7f}" lon="{longitude:.7f}"'
        yield f"<trkpt {place}><ele>{height:.1f}</ele><time>{moment.replace('+00:00', 'Z')}</time></trkpt>\n"
