"""python -m tests.browsers [webkit] [firefox]: the journeys of a tablet in other makes of browser.

Not in the suite, whose machine has Chromium alone. As root on Debian: apt-get install webkit2gtk-driver
gir1.2-webkit2-4.1 python3-gi xvfb firefox-esr. With `--pictures FOLDER` each journey leaves what it saw last.
"""

import argparse
import os
import sys

import pytest

from tests.browsers.engines import ENGINES

JOURNEYS = "tests/browsers/journeys.py"


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.browsers", description=__doc__)
    parser.add_argument("engines", nargs="*", metavar="ENGINE", help=f"of {', '.join(ENGINES)}; all of them at first")
    parser.add_argument("--pictures", default="", help="a folder for pictures of the pages")
    parser.add_argument("-x", action="store_true", help="end at the first that fails")
    parser.add_argument("-k", default="", help="only the journeys whose names have this")
    asked = parser.parse_args()
    if unknown := set(asked.engines) - set(ENGINES):
        parser.error(f"Not a browser that can be driven: {', '.join(sorted(unknown))}. There are {', '.join(ENGINES)}.")
    os.environ["BROWSERS"] = " ".join(asked.engines or ENGINES)
    os.environ["PICTURES"] = asked.pictures
    chosen = [*(["-k", asked.k] if asked.k else []), *(["-x"] if asked.x else [])]
    return int(pytest.main(["-n0", "-v", "-p", "no:cacheprovider", *chosen, JOURNEYS]))


sys.exit(main())
