"""Read what the program shows: each text of its templates, modules, scripts and data, with its line."""

import ast
import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import NamedTuple

# Words in these attributes are read or heard. `value` is a button's, `data-…` what a script shows.
SHOWN_ATTRIBUTES = {"title", "aria-label", "aria-description", "placeholder", "alt", "value", "content", "label"}
TAG_OR_COMMENT = re.compile(r"\{#.*?#\}|\{%\s*comment.*?endcomment\s*%\}|\{%.*?%\}", re.DOTALL)
VARIABLE = re.compile(r"\{\{.*?\}\}", re.DOTALL)
QUOTED = re.compile(r"\"([^\"]*)\"|'([^']*)'")
# What is found first is a comment or a text; the other marks within it are part of it.
SCRIPT_TOKEN = re.compile(
    r"/\*.*?\*/|(?<![:\"'`\\])//[^\n]*|\"(?:[^\"\\\n]|\\.)*\"|'(?:[^'\\\n]|\\.)*'|`(?:[^`\\]|\\.)*`", re.DOTALL
)
SHOWN_IN_A_SCRIPT = re.compile(r"[A-Z]?[a-z’]+[ ,.:][^=]*[a-z]|^[A-Z][a-z]{2,}")


class Shown(NamedTuple):
    """Hold one text with the file and the line where it begins."""

    file: Path
    line: int
    text: str


def read_templates(folder: Path) -> Iterator[Shown]:
    """Yield each text, attribute and word given to a tag of every template below a folder."""
    for path in sorted(folder.rglob("*.html")):
        yield from read_template(path)


def read_template(path: Path) -> Iterator[Shown]:
    source = path.read_text()
    for tag in TAG_OR_COMMENT.finditer(source):
        if tag[0].startswith("{%") and not re.match(r"\{%\s*(url|load|static|extends|comment)\b", tag[0]):
            line = source.count("\n", 0, tag.start()) + 1
            yield from (Shown(path, line, a or b) for a, b in QUOTED.findall(tag[0]) if " " in (a or b))
    for variable in VARIABLE.finditer(source):
        line = source.count("\n", 0, variable.start()) + 1
        yield from (Shown(path, line, a or b) for a, b in QUOTED.findall(variable[0]) if re.search("[a-z]{3}", a or b))
    reader = _TemplateReader(path)
    reader.feed(VARIABLE.sub(lambda found: "…" + "\n" * found[0].count("\n"), _without_tags(source)))
    reader.close()
    yield from reader.texts()


def _without_tags(source: str) -> str:
    return TAG_OR_COMMENT.sub(lambda found: "\n" * found[0].count("\n"), source)


class _TemplateReader(HTMLParser):
    """Collects texts. One text is what stands between two elements, so that a sentence with a link is read whole."""

    INLINE = ("a", "b", "strong", "em", "span", "abbr", "code", "kbd", "time", "small", "output")

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.path, self.silent = path, False
        self.found: list[Shown] = []
        self.begun, self.words = 0, ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent = tag in ("script", "style")
        for name, words in attrs:
            if words and (name in SHOWN_ATTRIBUTES or name.startswith("data-")) and re.search("[A-Za-z]{2}", words):
                self.found.append(Shown(self.path, self.getpos()[0], " ".join(words.split())))
        if tag not in self.INLINE:
            self._end()

    def handle_endtag(self, tag: str) -> None:
        self.silent = False
        if tag not in self.INLINE:
            self._end()

    def handle_data(self, data: str) -> None:
        if not self.silent:
            if not self.words.strip():
                self.begun = self.getpos()[0] + len(data) - len(data.lstrip("\n"))
            self.words += data

    def _end(self) -> None:
        words = " ".join(self.words.split())
        if re.search("[A-Za-z]{2}", words):
            self.found.append(Shown(self.path, self.begun, words))
        self.words = ""

    def texts(self) -> list[Shown]:
        self._end()
        return self.found


def read_modules(folder: Path) -> Iterator[Shown]:
    """Yield each string of the modules below a folder but their docstrings; a value in it is written `…`."""
    for path in sorted(folder.rglob("*.py")):
        if "migrations" not in path.parts:
            yield from read_module(path)


def read_module(path: Path) -> Iterator[Shown]:
    reader = _ModuleReader(path)
    reader.visit(ast.parse(path.read_text()))
    return iter(reader.found)


class _ModuleReader(ast.NodeVisitor):
    def __init__(self, path: Path) -> None:
        self.path = path
        self.found: list[Shown] = []

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):  # a docstring is a string that nothing is done with
            self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str):
            self._add(node.lineno, re.sub(r"\{\w*\}", "…", node.value))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        parts = [part.value if isinstance(part, ast.Constant) else "…" for part in node.values]
        self._add(node.lineno, "".join(map(str, parts)))
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                self.visit(part.value)

    def _add(self, line: int, text: str) -> None:
        if re.search("[A-Za-z]{2}", text):
            self.found.append(Shown(self.path, line, " ".join(text.split())))


def read_scripts(folder: Path) -> Iterator[Shown]:
    """Yield each string of the scripts below a folder that reads like words."""
    for path in sorted(folder.rglob("*.js")):
        source = path.read_text()
        for token in SCRIPT_TOKEN.finditer(source):
            words = token[0][1:-1]
            if token[0][0] != "/" and SHOWN_IN_A_SCRIPT.search(words):
                yield Shown(path, source.count("\n", 0, token.start()) + 1, " ".join(words.split()))


def read_data(folder: Path) -> Iterator[Shown]:
    """Yield each text of the files of data."""
    for path in sorted(folder.rglob("*.json")):
        source = path.read_text()
        for words in _texts_of(json.loads(source)):
            at = source.find(json.dumps(words, ensure_ascii=False)[1:-1])
            yield Shown(path, source.count("\n", 0, max(at, 0)) + 1, words)


def _texts_of(value: object) -> Iterator[str]:
    if isinstance(value, str) and re.search("[A-Za-z]{2}", value):
        yield value
    elif isinstance(value, list):
        for each in value:
            yield from _texts_of(each)
    elif isinstance(value, dict):
        yield from _texts_of([*value.values()])
