"""Pack the positions of a track the ways of its circuits and its readings, small. Pure."""

import json
import zlib
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lessons.rules.flight_track.flight import Fixes

# Milliseconds, millionths of a degree (a hand's breadth: a receiver wanders by metres), decimetres.
SCALES = (1e3, 1e6, 1e6, 10.0)
WAY_DIFFERENCES = 3
READING_COLUMNS = ("gate", "quantity", "value", "error", "why_not")
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
    """Return the ways of circuits (whole feet along, across and high; seconds), packed."""
    # A smoothed way bends slowly: the differences of differences are small and compress best.
    rows = [[_differences_of(column).tolist() for column in zip(*way, strict=True)] for way in ways]
    content = {"differences": WAY_DIFFERENCES, "ways": rows}
    return zlib.compress(json.dumps(content, separators=(",", ":")).encode(), 9)


def _differences_of(column: Sequence[float]) -> NDArray[np.int64]:
    return np.diff(np.array(column).astype(int), n=WAY_DIFFERENCES, prepend=[0] * WAY_DIFFERENCES)


def unpack_ways(packed: bytes) -> list[list[Point]]:
    """Return the ways that `pack_ways` packed, in whole feet and seconds."""
    content = json.loads(zlib.decompress(packed))
    # A list alone was written before: differences taken once.
    times, ways = (content["differences"], content["ways"]) if isinstance(content, dict) else (1, content)
    found = []
    for columns in ways:
        rows = [np.array(column) for column in columns]
        for _ in range(times):
            rows = [np.cumsum(row) for row in rows]
        found.append([(float(x), float(y), float(h), float(t)) for x, y, h, t in zip(*rows, strict=True)])
    return found


def pack_readings(rows: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """Return readings by column: each name once, so that a database compresses them four times better."""
    return {name: [row[name] for row in rows] for name in READING_COLUMNS}


def unpack_readings(stored: Mapping[str, Sequence[Any]] | Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the readings of a circuit as it is stored; before they were stored by column, each was an object."""
    if not isinstance(stored, Mapping):
        return list(stored)
    columns = (stored[name] for name in READING_COLUMNS)
    return [dict(zip(READING_COLUMNS, row, strict=True)) for row in zip(*columns, strict=True)]
