"""No circle of rooms inside an app and no circle of modules anywhere; and the reader of imports sees what it should.

The message names the files, lines and names that tie a circle: `python -m tests.project.import_graph` prints the rest.
"""

from pathlib import Path

import grimp
import pytest

from tests.project.import_graph import (
    APPS,
    ROOT,
    describe_circles,
    describe_rooms,
    find_circles,
    find_modules,
    floors_of,
    graph_of,
    imports_inside,
    module_arrows,
    read_imports,
    room_arrows,
)


@pytest.mark.parametrize("app", APPS)
def test_no_circle_of_rooms(app: str) -> None:
    circles = describe_circles(room_arrows(imports_inside(read_imports(ROOT), [app])))
    assert not circles, "\n".join(circles)


def test_no_circle_of_modules() -> None:
    circles = describe_circles(module_arrows(read_imports(ROOT), find_modules(ROOT, APPS)))
    assert not circles, "\n".join(circles)


def test_the_imports_are_those_that_grimp_reads() -> None:
    """Another reader, that of import-linter; it knows neither the place of an import nor its names."""
    graph = grimp.build_graph(*APPS, cache_dir=None)
    pairs = {(name, target) for name in graph.modules for target in graph.find_modules_directly_imported_by(name)}
    assert {(one.source, one.target) for one in read_imports(ROOT)} == pairs
    assert {*find_modules(ROOT, APPS)} == graph.modules


FLAT = {
    "app/__init__.py": "",
    "app/low/__init__.py": "",
    "app/low/facts.py": "FACT = 1\n",
    "app/high/__init__.py": "",
    "app/high/view.py": "from app.low.facts import FACT\n",
    "app/alone.py": "import json\n",
}


def write(folder: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


def room_circles(root: Path, depth: int = 1) -> list[str]:
    return describe_circles(room_arrows(read_imports(root, ["app"]), depth))


def module_circles(root: Path) -> list[str]:
    return describe_circles(module_arrows(read_imports(root, ["app"]), find_modules(root, ["app"])))


def test_a_house_without_circles_has_none(tmp_path: Path) -> None:
    root = write(tmp_path, FLAT)
    imports = read_imports(root, ["app"])
    assert [str(one) for one in imports] == ["app/high/view.py:1 imports FACT from app.low.facts"]
    assert room_circles(root) == module_circles(root) == []
    report = describe_rooms(("app",), imports, find_modules(root, ["app"]), 1)
    assert report.splitlines() == [
        "app: 4 rooms, 2 floors, 1 arrows, 0 of them in circles; circles: 0",
        "floor 1: app.high",
        "floor 0: app, app.alone, app.low",
        "app.high -> app.low",
    ]


@pytest.mark.parametrize(
    ("text", "ending"),
    [
        ("from app.high.view import show\n", ":1 imports show from app.high.view"),
        ("from app.high import view as page\n", ":1 imports app.high.view"),
        ("import json, app.high.view\n", ":1 imports app.high.view"),
        ("from ..high.view import (\n    show,\n    hide,\n)\n", ":1 imports show, hide from app.high.view"),
        ("def late():\n    from app.high.view import *\n", ":2 imports * from app.high.view (inside a function)"),
        (
            "class Page:\n    async def late(self):\n        if self:\n            from ..high import view\n",
            ":4 imports app.high.view (inside a function)",
        ),
        (
            "import typing\nif typing.TYPE_CHECKING:\n    from app.high.view import Show\n",
            ":3 imports Show from app.high.view (for types only)",
        ),
        (
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    pass\nelse:\n    from app.high import view\n",
            ":5 imports app.high.view",
        ),
    ],
)
def test_an_import_back_up_ties_two_rooms_and_is_named(tmp_path: Path, text: str, ending: str) -> None:
    root = write(tmp_path, FLAT | {"app/low/facts.py": text})
    (circle,) = room_circles(root)
    assert circle.splitlines() == [
        "2 in a circle: app.high, app.low",
        "  app.high -> app.low",
        "    app/high/view.py:1 imports FACT from app.low.facts",
        "  app.low -> app.high",
        f"    app/low/facts.py{ending}",
    ]
    (modules,) = module_circles(root)
    assert modules.splitlines()[0] == "2 in a circle: app.high.view, app.low.facts"


def test_rooms_may_be_tied_where_no_two_modules_are(tmp_path: Path) -> None:
    root = write(tmp_path, FLAT | {"app/low/other.py": "from app.high.view import FACT\n"})
    assert [words.splitlines()[0] for words in room_circles(root)] == ["2 in a circle: app.high, app.low"]
    assert module_circles(root) == []
    assert room_circles(root, depth=2) == []


def test_a_package_runs_before_a_module_in_it(tmp_path: Path) -> None:
    """The import works or fails by which of the three is imported first."""
    files = {
        "app/low/__init__.py": "from app.low.facts import FACT\n",
        "app/low/facts.py": "from app.alone import once\n",
        "app/low/kinds.py": "KIND = 1\n",
        "app/alone.py": "from app.low.kinds import KIND\n",
    }
    (circle,) = module_circles(write(tmp_path, FLAT | files))
    assert circle.splitlines()[0] == "3 in a circle: app.alone, app.low, app.low.facts"
    assert "    app/alone.py:1 imports KIND from app.low.kinds (its package runs first)" in circle.splitlines()


def test_modules_of_one_room_may_be_tied_too(tmp_path: Path) -> None:
    root = write(
        tmp_path, FLAT | {"app/low/facts.py": "from . import kinds\n", "app/low/kinds.py": "from .facts import A\n"}
    )
    assert room_circles(root) == []
    assert [words.splitlines()[0] for words in module_circles(root)] == ["2 in a circle: app.low.facts, app.low.kinds"]


def test_circles_and_floors_of_a_graph() -> None:
    graph = graph_of(
        [("a", "b"), ("b", "c"), ("c", "b"), ("c", "d"), ("e", "f"), ("f", "g"), ("g", "e"), ("a", "e")], ["h"]
    )
    assert find_circles(graph) == [["e", "f", "g"], ["b", "c"]]
    assert floors_of(graph) == [["d", "e", "f", "g", "h"], ["b", "c"], ["a"]]
