"""What the program runs on is listed with its licence, and nothing older than what was looked at is installed."""

import re
from importlib import metadata
from pathlib import Path

import pytest
from django.conf import settings
from packaging.version import Version

FOLDER = Path(settings.BASE_DIR, ".ci")
PINNED = dict(re.findall(r"^([A-Za-z0-9._-]+)==(\S+)", (FOLDER / "requirements.txt").read_text(), re.MULTILINE))
LINES = (FOLDER / "dependencies.tsv").read_text().splitlines()
LISTED = {name: (lowest, licence) for name, lowest, licence in (line.split("\t") for line in LINES if line[0] != "#")}
# Of the licences' names: what a school may run and change without giving its own work away.
PERMITTED = re.compile(
    r"MIT|BSD|Apache|Python Software Foundation|PSF|0BSD|Zlib|CC0|ISC|MPL|Mozilla|LGPL|Lesser General Public"
)


def stated_licence(name: str) -> str:
    """The licence by the package's own metadata (Core metadata 2.4: License-Expression, before it classifiers)."""
    about = metadata.metadata(name)
    if expression := about.get("License-Expression"):
        return expression
    classified = [row.rsplit(" :: ", 1)[1] for row in about.get_all("Classifier", []) if row.startswith("License ::")]
    return "; ".join(classified) or (about.get("License") or "").strip().split("\n")[0][:80]


def test_everything_that_is_installed_to_run_is_listed_and_nothing_else() -> None:
    assert LISTED.keys() == PINNED.keys()
    assert list(LISTED) == sorted(LISTED)


@pytest.mark.parametrize("name", sorted(LISTED))
def test_a_dependency_is_no_older_than_what_was_looked_at(name: str) -> None:
    lowest = Version(LISTED[name][0])
    assert Version(PINNED[name]) >= lowest
    assert Version(metadata.version(name)) >= lowest


@pytest.mark.parametrize("name", sorted(LISTED))
def test_a_licence_is_the_one_that_was_looked_at(name: str) -> None:
    assert LISTED[name][1] == stated_licence(name)
    assert PERMITTED.search(LISTED[name][1])


def test_the_day_of_the_last_look_is_written_down() -> None:
    assert re.search(r"\b20\d\d-[01]\d-[0-3]\d\b", LINES[0])


def test_every_requirement_of_the_project_is_among_them() -> None:
    project = Path(settings.BASE_DIR, "pyproject.toml").read_text()
    needed = re.search(r"^dependencies = \[(.*?)^\]", project, re.DOTALL | re.MULTILINE)
    assert needed
    names = {re.split(r"[\[><=]", row)[0] for row in re.findall(r'^    "([^"]+)"', needed[1], re.MULTILINE)}
    assert len(names) > 20
    assert names <= LISTED.keys()
