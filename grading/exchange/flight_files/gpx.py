"""Read GPX 1.1 and 1.0 tracks: trk, trkseg, trkpt with lat, lon, ele in metres and time in UTC."""

from datetime import UTC

from grading.exchange.flight_files.fixes import MAX_FIXES, BadTrack, Fix, TrackRead, unreadable

NOT_GPX = "This GPX file breaks off or is damaged: export it from the logger again."


def read_gpx(content: bytes) -> TrackRead:
    """Return the points of all tracks; routes and waypoints are no flight."""
    import gpxpy  # noqa: PLC0415 - needed in the reader's process alone
    import gpxpy.gpx  # noqa: PLC0415

    # Before the library builds an object for each: an opening and a closing tag a point.
    if content.count(b"trkpt") > 2 * MAX_FIXES:
        raise BadTrack(f"This file has more than {MAX_FIXES:,} positions: cut it to the lesson, or export less often.")
    with unreadable(NOT_GPX, gpxpy.gpx.GPXException, ValueError, TypeError, AttributeError, OverflowError):
        parsed = gpxpy.parse(content.decode("utf-8-sig"))
    points = [point for track in parsed.tracks for segment in track.segments for point in segment.points]
    if points and all(point.time is None for point in points):
        raise BadTrack("This file has places but no times, so nothing can be measured: export it with times.")
    read = TrackRead("gpx", [])
    for point in points:
        read.add(_fix(point.time, point.latitude, point.longitude, point.elevation))
    return read


def _fix(time, latitude, longitude, elevation) -> Fix | None:  # type: ignore[no-untyped-def] # a library without types
    if time is None:
        return None
    # The schema asks for UTC; a time without a zone is taken for it.
    moment = time if time.tzinfo else time.replace(tzinfo=UTC)
    return Fix(moment.timestamp(), float(latitude), float(longitude), None if elevation is None else float(elevation))
