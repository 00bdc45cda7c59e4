"""The documents: every path, module and function that they name exists, and the decisions are numbered without a gap.

A path is read from code in backticks and from links. A name that is there only on a server (it begins with a slash) or
inside a file that is given out (`record.json`) is none of ours.
"""

import re
import subprocess
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands

ROOT: Path = settings.BASE_DIR
MAX_DEVELOPERS_BYTES = 12_288
DECISIONS = ROOT / ".docs/decisions"
CODE_FENCE = re.compile(r"^```.*?^```", re.MULTILINE | re.DOTALL)
CODE = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\]\(([^)\s]+)\)")
# `grading/rules`, `.ci/run`, `fixtures/standards/*.json`; not an address (`/check/`) and not `A/%f`.
PATH = re.compile(r"\.?[\w*-]+(?:/[\w.*-]+)+/?|[\w*-]+/")
SOURCE_FILE = re.compile(r"[\w.-]+\.(?:py|js|css|sql|md|toml|service|timer)|\.?[\w-]+\.(?:conf|example)")
MODULE = re.compile(r"(?:school|lessons|grading|tests)(?:\.\w+)+")
FUNCTION = re.compile(r"(?:(\w+)\.)?(\w+)\(\)")
DEFINITION = r"\b(?:def|class|function|FUNCTION|const|let)\s+{}\b"
COMMAND = re.compile(r"manage\.py ([a-z_]+)")
WALK = re.compile(r"^\d\. \*[^*]+\*.*$", re.MULTILINE)
STEP = re.compile(r"\*\*(\w+)\*\*([^*]*)")
# The floors of the house as the walks of the guide name them, from the top.
FLOORS = (
    {"views"},
    {"pages"},
    {"forms", "operations"},
    {"actions"},
    {"sheets", "exchange"},
    {"reading", "evidence"},
    {"rules", "models"},
    {"school"},
)
HEADING = re.compile(r"^## (\d+)\. \S.*$", re.MULTILINE)
DATE_LINE = re.compile(r"\*(\d{4}-\d\d-\d\d)\. Replaces: \S.*\*")


def documents() -> list[Path]:
    found = [ROOT / name for name in ("README.md", "DEVELOPERS.md", ".deploy/README.md")]
    return found + sorted((ROOT / ".docs").rglob("*.md"))


def document_name(path: Path) -> str:
    return str(path.relative_to(ROOT))


@lru_cache(maxsize=1)
def file_names() -> frozenset[str]:
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return frozenset(name for name in listing.stdout.splitlines() if (ROOT / name).is_file())


@lru_cache(maxsize=1)
def source_text() -> str:
    sources = (name for name in sorted(file_names()) if Path(name).suffix in {".py", ".js", ".sql"})
    return "\n".join((ROOT / name).read_text() for name in sources)


def code_words(text: str) -> Iterator[str]:
    """Yield each word of each code span: a command is several words, of which one may be a path."""
    for span in CODE.findall(CODE_FENCE.sub("", text)):
        yield from (word.strip(",;:") for word in span.split())


def exists(path: str) -> bool:
    """Tell whether a path, with or without an asterisk, is a file of the project or a folder with one."""
    if "*" in path:
        return any(ROOT.glob(path))
    wanted = path.rstrip("/")
    return any(name == wanted or name.startswith(f"{wanted}/") for name in file_names())


def module_exists(dotted: str) -> bool:
    """Tell whether a dotted name is a module or a package, or a name inside a module."""
    whole, parent = dotted.replace(".", "/"), dotted.rpartition(".")[0].replace(".", "/")
    return exists(f"{whole}.py") or exists(f"{whole}/__init__.py") or exists(f"{parent}.py")


def function_exists(owner: str | None, name: str) -> bool:
    """Tell whether a function, and the module or class written before it, is defined in a source file."""
    defined = re.search(DEFINITION.format(re.escape(name)), source_text()) is not None
    if owner is None:
        return defined
    modules = {Path(path).stem for path in file_names() if Path(path).suffix in {".py", ".js"}}
    is_class = re.search(rf"\bclass {re.escape(owner)}\b", source_text()) is not None
    return defined and (owner in modules or is_class)


def missing_names(text: str, folder: Path = ROOT) -> list[str]:
    """List what a document names and the project does not have; links are relative to the document's folder."""
    missing = []
    for word in code_words(text):
        if PATH.fullmatch(word):
            known = word.startswith(".var/") or exists(word)
        elif SOURCE_FILE.fullmatch(word):
            known = any(Path(name).name == word for name in file_names())
        elif MODULE.fullmatch(word):
            known = module_exists(word)
        elif match := FUNCTION.fullmatch(word):
            known = function_exists(*match.groups())
        else:
            continue
        if not known:
            missing.append(word)
    commands = {name for span in CODE.findall(text) for name in COMMAND.findall(span)}
    missing += sorted(f"manage.py {name}" for name in commands - set(get_commands()))
    for link in LINK.findall(text):
        target = link.partition("#")[0]
        if "://" not in link and target and not (folder / target).exists():
            missing.append(link)
    return missing


@pytest.mark.parametrize("path", documents(), ids=document_name)
def test_everything_a_document_names_exists(path: Path) -> None:
    assert missing_names(path.read_text(), path.parent) == []


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("in `grading/marking.py`", ["grading/marking.py"]),
        ("in `grading/rules/marking.py`", []),
        ("in `records.py` and `manage.py`", []),
        ("in `sealing.py`", ["sealing.py"]),
        ("under `checking/`", ["checking/"]),
        ("`fixtures/standards/*.json`, `fixtures/standards/*.yaml`", ["fixtures/standards/*.yaml"]),
        ("`python -m grading.signed_pdf`", ["grading.signed_pdf"]),
        ("`grading.sheets.pades`", []),
        ("`assess()`, `journal.record()`, `journal.no_such_function()`", ["journal.no_such_function()"]),
        ("`take_turn()`", ["take_turn()"]),
        ("`no_such_owner.record()`", ["no_such_owner.record()"]),
        ("`manage.py check_records --head`, `manage.py check_record`", ["manage.py check_record"]),
        ("`/etc/training-record/environment`, `/check/`, `cp A/%f %p`, `record.json`", []),
        ("[audit](.docs/no-such-document.md), [way](#way), [page](https://records.example/x)",
         [".docs/no-such-document.md"]),
    ],
)  # fmt: skip
def test_a_name_that_does_not_exist_is_named(text: str, missing: list[str]) -> None:
    assert missing_names(text) == missing


def steps_off_their_floor(walk: str) -> list[str]:
    """List the steps of a walk that climb, or whose function is not defined on the floor it is said to be on.

    A walk goes down from the views; another look begins at the views again.
    """
    wrong, above = [], 0
    for room, words in STEP.findall(walk):
        floor = next(number for number, rooms in enumerate(FLOORS) if room in rooms)
        if floor and floor < above:
            wrong.append(f"{room} after a lower floor")
        above = floor
        folder = ROOT / ("school" if room == "school" else f"grading/{room}")
        text = "\n".join(path.read_text() for path in folder.rglob("*.py"))
        names = [match[2] for word in CODE.findall(words) if (match := FUNCTION.fullmatch(word))]
        wrong += [f"{room}: {name}()" for name in names if not re.search(rf"\bdef {name}\b", text)]
    return wrong


def test_the_walks_of_the_guide_go_down_the_house() -> None:
    walks = WALK.findall((ROOT / "DEVELOPERS.md").read_text().split("## Laws")[0])
    assert len(walks) == 3
    assert all(len(STEP.findall(walk)) > 4 for walk in walks)
    assert [wrong for walk in walks for wrong in steps_off_their_floor(walk)] == []


@pytest.mark.parametrize(
    ("walk", "wrong"),
    [
        ("**views** `board()` → **reading** `get_or_derive()` → **rules** `assess()`", []),
        ("**reading** `get_or_derive()` → **pages** `BoardRow`", ["pages after a lower floor"]),
        ("**views** `assess()`", ["views: assess()"]),
    ],
)
def test_a_step_that_climbs_is_named(walk: str, wrong: list[str]) -> None:
    assert steps_off_their_floor(walk) == wrong


def test_the_checks_find_the_test_command_of_the_readme() -> None:
    """`.ci/run` reads it out of the README and runs it: without the line there it would run nothing."""
    [reading] = re.findall(r"grep -m1 -oP '([^']+)' README\.md", (ROOT / ".ci/run").read_text())
    told = subprocess.run(["grep", "-oP", reading, "README.md"], cwd=ROOT, capture_output=True, text=True, check=True)
    assert told.stdout.splitlines() == ["bash .ci/install tests && .var/venv/bin/python -m pytest"]


def test_the_developers_guide_is_short() -> None:
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) <= MAX_DEVELOPERS_BYTES


def test_the_developers_guide_links_every_document() -> None:
    """A document that nothing leads to is not read: the guide links each, or the folder of the decisions."""
    linked = set(LINK.findall((ROOT / "DEVELOPERS.md").read_text()))
    wanted = [document_name(path) for path in documents() if path.parent != ROOT]
    assert [name for name in wanted if name not in linked] == []


def test_decisions_are_numbered_without_a_gap() -> None:
    numbers = [int(number) for path in DECISIONS.glob("*.md") for number in HEADING.findall(path.read_text())]
    assert [number for number, count in Counter(numbers).items() if count > 1] == []
    assert sorted(numbers) == list(range(1, len(numbers) + 1))
    assert len(numbers) >= 100


@pytest.mark.parametrize("path", sorted(DECISIONS.glob("*.md")), ids=document_name)
def test_a_decision_has_a_date_a_reason_and_what_it_replaces(path: Path) -> None:
    sections = re.split(r"^(?=## )", path.read_text(), flags=re.MULTILINE)[1:]
    assert sections
    for section in sections:
        title, _, rest = section.partition("\n")
        date_line, _, reason = rest.strip().partition("\n")
        assert HEADING.fullmatch(title), title
        assert DATE_LINE.fullmatch(date_line), f"{title}: {date_line}"
        assert len(reason.strip()) > 60, f"{title}: no reason"


def test_decisions_stand_in_the_order_of_their_numbers() -> None:
    for path in DECISIONS.glob("*.md"):
        numbers = [int(number) for number in HEADING.findall(path.read_text())]
        assert numbers == sorted(numbers), path.name
