"""Try the measuring on real tracks: python -m tests.lessons.rules.flight_track.real_files FOLDER

Nobody here flew them. The folder holds FAI IGC files of sailplanes, fetched from public repositories of general parsers
and never committed: ten with one takeoff and one landing each lie in GliderGeek/opensoar (tests/igc_files, 445231c) and
marcin-osowski/igc_lib (testfiles, 14d6837), both MIT. Where the strip lies is learned from the first and the last roll.
Ten landings are found, none false, and nine takeoffs: of the tenth, in aat_outlanding_outside_sector.igc, 34 seconds
are missing.
"""

import argparse
import hashlib
import math
import sys
from pathlib import Path

import numpy as np

from grading.exchange.flight_files.read import read_flight_file
from lessons.rules.flight_track import FieldWind, RunwaySite, TrackSetting
from lessons.rules.flight_track.flight import Fixes, along_runway, smooth_fixes
from lessons.rules.flight_track.passages import Passed, find_passages
from lessons.rules.pattern import Shape

FOOT, KNOT = 0.3048, 0.514444
STALL_KT, CIRCUIT_FT, STRIP_FT, BEFORE_FT = 36.0, 600.0, 5000.0, 2500.0
# By the SHA-256 of each file: takeoffs, landings, touches.
EXPECTED = {
    "4ff0b0e6c7a8abbf1fed1afc0cd6f52841b7a8923a9956ba8a53b3e732167399": (1, 1, 0),
    "d05b1c00c86caa9d864548bdf165f5a80251931b2a11f1dcaa9d50b8d04fe9e1": (1, 1, 0),
    # 34 seconds are missing where it took off.
    "b821b93305d84a7c4777e1705d82b3f9d6a2514311321601dd2a3857636086bb": (0, 1, 0),
    "ca0ea53a552a52cb6d99a3b908b44513612fba184a1a9390a3355be3fcdd26ca": (1, 1, 0),
    "d1ec08abe5110684753312d955c73b1c324ab9e0447a25a39bdeee8dd8c9d2b8": (1, 1, 0),
    "91a67e9283fdb6d5bdecd37250f2cbb9173f88f279881f95267310e22f3c2299": (1, 1, 0),
    "0063e46f8e4d1b912833fdc0a4e7e3bb18d70cb90a1f1df94675a80654ba5efa": (1, 1, 0),
    "4029176b0f31e56c43b03c83bc456f43c09afb1b3c5c6f309acc77e0def41c2f": (1, 1, 0),
    "1adfb733582a9df8a904bb5ee4e6d76233ef582b2215866df8b38efe6e5208ac": (1, 1, 0),
    "21f0213b29f8c6462973dc7c8fd7839111b4b8ce3c39f544e5d1f978ab332219": (1, 1, 0),
}
ROLL = (15 * KNOT, 40 * KNOT)
STILL = TrackSetting([], Shape.SQUARE, None, STALL_KT, 0.0, CIRCUIT_FT, FieldWind(0, 0))


def read_fixes(path: Path) -> Fixes | None:
    told = read_flight_file(path.read_bytes())
    if told["problem"]:
        return None
    rows = told["fixes"]
    column = 4 if all(row[4] is not None for row in rows) else 3
    seconds, latitude, longitude, height = np.array([[*row[:3], row[column] or 0.0] for row in rows], dtype=float).T
    return Fixes(seconds, latitude, longitude, height, column == 4)


def strip_at(fixes: Fixes, *, first: bool) -> RunwaySite | None:
    """The strip of the first or of the last roll: through its middle, along the way that was rolled."""
    here = RunwaySite(0, "", fixes.latitude[0], fixes.longitude[0], 0.0, STRIP_FT, 0.0, True)
    local = smooth_fixes(fixes, here)
    speed = np.hypot(*local.level[1].T)
    rolls = np.nonzero((speed > ROLL[0]) & (speed < ROLL[1]))[0]
    fast = np.nonzero(speed > 1.2 * STALL_KT * KNOT)[0]
    if not len(rolls) or not len(fast):
        return None
    pieces = np.split(rolls, np.nonzero(np.diff(rolls) > 5)[0] + 1)
    # Of a launch the last slow seconds before it is fast, of a landing the first after it.
    edge = fast[0] if first else fast[-1]
    roll = min(pieces, key=lambda piece: abs(piece[-1 if first else 0] - edge))
    east, north = local.level[1][roll].mean(axis=0)
    heading = math.degrees(math.atan2(east, north)) % 360
    at = np.searchsorted(fixes.seconds, local.seconds[roll[len(roll) // 2]]).clip(0, len(fixes.seconds) - 1)
    site = RunwaySite(0, "", fixes.latitude[at], fixes.longitude[at], heading, STRIP_FT, 0.0, True)
    return moved_back(site, BEFORE_FT * FOOT)


def moved_back(site: RunwaySite, metres: float) -> RunwaySite:
    north, east = (metres * part(math.radians(site.heading_true + 180)) for part in (math.cos, math.sin))
    latitude = site.latitude + math.degrees(north / 6_371_000)
    longitude = site.longitude + math.degrees(east / 6_371_000 / math.cos(math.radians(site.latitude)))
    return RunwaySite(0, "", latitude, longitude, site.heading_true, site.length_ft, 0.0, True)


def counted(fixes: Fixes) -> tuple[int, int, int]:
    """Takeoffs, landings and touches."""
    told = []
    for first, wanted in ((True, Passed.START), (False, Passed.FULL_STOP)):
        site = strip_at(fixes, first=first)
        passages = find_passages(along_runway(smooth_fixes(fixes, site), site), site, STILL) if site else []
        told.append(sum(row.ended is wanted for row in passages))
        told.append(sum(row.ended in (Passed.TOUCH_AND_GO, Passed.UNSURE) for row in passages))
    return told[0], told[2], max(told[1], told[3])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    wrong = set(EXPECTED)
    for path in sorted(parser.parse_args().folder.glob("*.igc")):
        fixes, digest = read_fixes(path), hashlib.sha256(path.read_bytes()).hexdigest()
        found = None if fixes is None else counted(fixes)
        said = "not read" if found is None else "takeoffs {}, landings {}, touches {}".format(*found)
        if found == EXPECTED.get(digest, ()):
            wrong.discard(digest)
            said += ", as expected"
        sys.stdout.write(f"{path.name}: {said}\n")
    sys.stdout.write(f"{len(EXPECTED) - len(wrong)} of the {len(EXPECTED)} files are as expected.\n")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
