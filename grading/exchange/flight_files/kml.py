"""Read tracks of KML files: pairs of `when` and `gx:coord` (longitude, latitude, metres) inside `gx:Track`."""

import io
from datetime import UTC, datetime

from grading.exchange.flight_files.fixes import BadTrack, Fix, TrackRead, unreadable

NOT_KML = "This KML file breaks off or is damaged: export it from the logger again."
NO_TRACK = "This KML file has no track with times (gx:Track), so nothing can be measured: export it with times."


def read_kml(content: bytes) -> TrackRead:
    """Return the points of all tracks with times; a line without times is no track."""
    from lxml import etree  # noqa: PLC0415 - needed in the reader's process alone

    read, times = TrackRead("kml", []), list[str]()
    coordinates = list[str]()
    with unreadable(NOT_KML, etree.XMLSyntaxError):
        # Neither entities nor addresses are followed, and deep nesting is refused by the library.
        events = etree.iterparse(io.BytesIO(content), resolve_entities=False, no_network=True, load_dtd=False)
        for _, element in events:
            name = etree.QName(element).localname if isinstance(element.tag, str) else ""
            if name == "when":
                times.append(element.text or "")
            elif name == "coord":
                coordinates.append(element.text or "")
            elif name == "Track":
                _add_all(read, times, coordinates)
                times, coordinates = [], []
            element.clear()
    if not read.fixes:
        raise BadTrack(NO_TRACK)
    return read


def _add_all(read: TrackRead, times: list[str], coordinates: list[str]) -> None:
    for when, where in zip(times, coordinates, strict=False):
        read.add(_fix(when, where))


def _fix(when: str, where: str) -> Fix | None:
    try:
        moment = datetime.fromisoformat(when.strip().replace("Z", "+00:00"))
        longitude, latitude, *height = (float(number) for number in where.split())
    except ValueError:
        return None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return Fix(moment.timestamp(), latitude, longitude, height[0] if height else None)
