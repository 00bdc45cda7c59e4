"""How the time of each figure grows with the size of the academy: the exponent between two sizes, 1 for a line.

Only between sizes with as many years: a page of one student grows with history too.
"""

import json
import math
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any


def main(results: str) -> None:
    runs = sorted(map(json.loads, Path(results).read_text().splitlines()), key=lambda run: run["students"])
    pairs = [(small, large) for small, large in pairwise(runs) if small["years"] == large["years"]]
    out = sys.stdout
    for small, large in pairwise(runs):
        if small["years"] != large["years"]:
            out.write(
                f"\nNot compared: {small['students']:,} students have {small['years']} years and"
                f" {large['students']:,} have {large['years']}. Ask with --years for the same of both.\n"
            )
    if not pairs:
        return
    spans = [f"{small['students']:,} to {large['students']:,}" for small, large in pairs]
    out.write("\nGrowth: time over students, as an exponent\n\n| what | " + " | ".join(spans) + " |\n")
    out.write("|---|" + "---:|" * len(pairs) + "\n")
    for name in [row["what"] for row in runs[0]["figures"]]:
        exponents = [f"{_exponent(name, small, large):.2f}" for small, large in pairs]
        out.write(f"| {name} | " + " | ".join(exponents) + " |\n")


def _exponent(name: str, small: dict[str, Any], large: dict[str, Any]) -> float:
    before, after = (next(row["middle"] for row in run["figures"] if row["what"] == name) for run in (small, large))
    return math.log(after / before) / math.log(large["students"] / small["students"])


if __name__ == "__main__":
    main(sys.argv[1])
