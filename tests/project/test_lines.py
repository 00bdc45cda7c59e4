"""What people read has lines of at most 120 characters, and every style sheet has the layout of its formatter."""

import tomllib
from itertools import zip_longest
from pathlib import Path

import cssbeautifier
import pytest
from django.conf import settings

ROOT: Path = settings.BASE_DIR
TOOLS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]
LONGEST: int = TOOLS["ruff"]["line-length"]
# The formatter's command line reads no file of options: these are the ones of pyproject.toml.
COMMAND = "css-beautify --replace --indent-size=2 --end-with-newline --space-around-combinator"


def style_sheets() -> list[Path]:
    # Not what a demo has collected under .var, with the style sheets of others.
    return sorted(path for path in ROOT.glob("*/static/**/*.css") if ".var" not in path.parts)


def formatted(text: str) -> str:
    options = cssbeautifier.default_options()
    for name, value in TOOLS["cssbeautifier"].items():
        assert hasattr(options, name), f"The formatter has no option {name}"
        setattr(options, name, value)
    return str(cssbeautifier.beautify(text, options))


def first_difference(path: Path) -> str:
    """Name the first line that the formatter would write differently, or return nothing."""
    text = path.read_text()
    lines = zip_longest(text.split("\n"), formatted(text).split("\n"))
    for number, (written, expected) in enumerate(lines, 1):
        if written != expected:
            return f"{path}:{number}: {written!r} instead of {expected!r}; run {COMMAND} {path}"
    return ""


def long_lines(paths: list[Path]) -> list[str]:
    return [
        f"{path}:{number}: {len(line)} characters"
        for path in paths
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if len(line) > LONGEST
    ]


@pytest.mark.parametrize("path", style_sheets(), ids=lambda path: path.name)
def test_a_style_sheet_has_the_layout_of_the_formatter(path: Path) -> None:
    difference = first_difference(path)
    assert not difference, difference


def test_no_line_is_too_long() -> None:
    templates = sorted((ROOT / "templates").rglob("*.html"))
    # Not what a demo has collected under .var, with the scripts of others.
    scripts = sorted(path for path in ROOT.glob("*/static/*/*.js") if ".var" not in path.parts)
    assert templates
    assert scripts
    assert style_sheets()
    found = long_lines([*templates, *scripts, *style_sheets()])
    assert not found, "\n".join(found)


def test_every_tool_has_the_same_longest_line() -> None:
    assert TOOLS["djlint"]["max_line_length"] == LONGEST


@pytest.mark.parametrize(
    ("bad", "number"),
    [
        (".band {\n  color: inherit;\n}\n\n.band li { flex: 1 }\n", 5),  # a rule in one line
        (".band,.keys {\n  color: inherit;\n}\n", 1),  # two selectors in one line
        (".band {\n  color: inherit; flex: 1;\n}\n", 2),  # two declarations in one line
        (".band {\n  color: inherit;\n}\n.keys {\n  flex: 1;\n}\n", 4),  # no blank line between two rules
        ("@media print {\n.band {\n  flex: 1;\n}\n}\n", 2),  # no indentation
        (".band {\n  color: inherit;\n}", 4),  # no end of the last line
    ],
)
def test_another_layout_is_refused(tmp_path: Path, bad: str, number: int) -> None:
    sheet = tmp_path / "bad.css"
    sheet.write_text(bad)
    assert first_difference(sheet).startswith(f"{sheet}:{number}: ")
    sheet.write_text(formatted(bad))
    assert first_difference(sheet) == ""


def test_a_long_line_is_named(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text(f"<p>{'é' * (LONGEST - 7)}</p>\n")  # characters are counted, not bytes
    assert long_lines([page]) == []
    page.write_text(f"<p>short</p>\n<p>{'é' * (LONGEST - 6)}</p>\n")
    assert long_lines([page]) == [f"{page}:2: {LONGEST + 1} characters"]
