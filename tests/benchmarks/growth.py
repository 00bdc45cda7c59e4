"""How the time of each figure grows with the size of the academy: the exponent between two sizes, 1 for a line."""

import json
import math
import sys
from itertools import pairwise
from pathlib import Path


def main(results: str) -> None:
    runs = sorted(map(json.loads, Path(results).read_text().splitlines()), key=lambda run: run["students"])
    pairs = list(pairwise(runs))
    if not pairs:
        return
    out = sys.stdout
    spans = [f"{small['students']:,} to {large['students']:,}" for small, large in pairs]
    out.write("\nGrowth: time over students, as an exponent\n\n| what | " + " | ".join(spans) + " |\n")
    out.write("|---|" + "---:|" * len(pairs) + "\n")
    for name in [row["what"] for row in runs[0]["figures"]]:
        exponents = []
        for small, large in pairs:
            before, after = (
                next(row["middle"] for row in run["figures"] if row["what"] == name) for run in (small, large)
            )
            exponents.append(f"{math.log(after / before) / math.log(large['students'] / small['students']):.2f}")
        out.write(f"| {name} | " + " | ".join(exponents) + " |\n")


if __name__ == "__main__":
    main(sys.argv[1])
