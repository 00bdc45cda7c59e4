"""python -m tests.fuzz [--examples N] [--seed N] [--who NAME]: tries every form with N inputs and says what broke."""

import argparse
import os
import sys
from pathlib import Path

import pytest

parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
parser.add_argument("--examples", type=int, default=30, help="inputs for each form (default 30)")
parser.add_argument("--seed", type=int, default=0, help="the same seed tries the same inputs (default 0)")
parser.add_argument("--who", default="", help="only this one of the cast")
asked = parser.parse_args()
os.environ["FUZZ_EXAMPLES"] = str(asked.examples)
chosen = ["-k", asked.who] if asked.who else []
how = ["-n", "0", "--tb=no", "--show-capture=no", "-p", "no:cacheprovider", f"--hypothesis-seed={asked.seed}"]
sys.exit(pytest.main([str(Path(__file__).with_name("long_run.py")), *how, *chosen]))
