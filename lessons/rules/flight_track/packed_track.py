"""Pack the positions of a track and the ways of its circuits: differences of whole numbers, compressed. Pure."""

import json
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lessons.rules.flight_track.flight import Fixes

# Milliseconds, millionths of a degree (a hand's breadth: a receiver wanders by metres), decimetres.
SCALES = (1e3, 1e6, 1e6, 10.0)
Point = tuple[float, float, float, float]


def pack_positions(fixes: Fixes) -> bytes:
    """Return seconds, latitude, longitude and height of each fix, packed."""
    columns = (fixes.seconds, fixes.latitude, fixes.longitude, fixes.height)
    rows = [np.round(column * scale).astype("<i8") for column, scale in zip(columns, SCALES, strict=True)]
    return zlib.compress(b"".join(_differences(row) for row in rows), 9)


def _differences(row: NDArray[np.int64]) -> bytes:
    first, rest = row[:1], np.diff(row).astype("<i4")
    # By planes of bytes: the high ones are nearly always equal, which compresses well.
    planes = rest.view(np.uint8).reshape(-1, 4).T if len(rest) else np.empty((4, 0), np.uint8)
    return first.tobytes() + planes.tobytes()


def unpack_positions(packed: bytes, *, by_pressure: bool) -> Fixes:
    """Return the fixes that `pack_positions` packed."""
    content = zlib.decompress(packed)
    length = len(content) // len(SCALES)
    columns = []
    for place, scale in enumerate(SCALES):
        row = content[place * length : (place + 1) * length]
        planes = np.frombuffer(row[8:], np.uint8).reshape(4, -1).T
        rest = np.ascontiguousarray(planes).view("<i4").ravel()
        first = np.frombuffer(row[:8], "<i8")
        columns.append(np.cumsum(np.concatenate([first, rest.astype("<i8")])) / scale)
    seconds, latitude, longitude, height = columns
    return Fixes(seconds, latitude, longitude, height, by_pressure)


def pack_ways(ways: Sequence[Sequence[Point]]) -> bytes:
    """Return the ways of circuits (feet along, across, high; seconds), packed."""
    steps = [[list(map(list, zip(*way, strict=True)))] for way in ways]
    rows = [[np.diff(np.array(column), prepend=0).astype(int).tolist() for column in way[0]] for way in steps]
    return zlib.compress(json.dumps(rows, separators=(",", ":")).encode(), 9)


def unpack_ways(packed: bytes) -> list[list[Point]]:
    """Return the ways that `pack_ways` packed, in whole feet and seconds."""
    found = []
    for columns in json.loads(zlib.decompress(packed)):
        rows = [np.cumsum(column).tolist() for column in columns]
        found.append([(float(x), float(y), float(h), float(t)) for x, y, h, t in zip(*rows, strict=True)])
    return found
