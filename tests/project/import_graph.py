"""Print the rooms, floors, arrows and circles of the imports of an app, or of all apps.

    python -m tests.project.import_graph [grading|lessons|school|all] [--depth 2]

A room is the first package or module below an app (`grading.actions`), for depth 2 the second
(`grading.rules.readiness`). An arrow leads from a room to one that it imports; a room lies a floor above the highest
room it imports; a circle is a set of rooms, or of modules, that reach each other by arrows.

The source is read and not run. An import inside a function counts, because the module cannot do its work without it,
and so does one under TYPE_CHECKING, because the module cannot be understood without it; both are named. Names in
strings, such as those in settings, are not seen.
"""

import argparse
import ast
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APPS = ("school", "lessons", "grading")
Graph = dict[str, set[str]]


class Place(StrEnum):
    TOP = ""
    FUNCTION = "inside a function"
    TYPES = "for types only"
    PACKAGE = "its package runs first"


@dataclass(frozen=True)
class Import:
    """One statement that imports `names` of a module of the project; without names the module itself."""

    source: str
    target: str
    names: tuple[str, ...]
    file: str
    line: int
    place: Place

    def __str__(self) -> str:
        what = f"{', '.join(self.names)} from {self.target}" if self.names else self.target
        return f"{self.file}:{self.line} imports {what}" + (f" ({self.place})" if self.place else "")


Arrows = dict[tuple[str, str], list[Import]]


def find_modules(root: Path, apps: Iterable[str]) -> dict[str, Path]:
    """Return the files of the apps by the dotted names of their modules; a package goes by its `__init__`."""
    modules = {}
    for app in apps:
        for path in sorted((root / app).rglob("*.py")):
            parts = path.relative_to(root).with_suffix("").parts
            modules[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return modules


def read_imports(root: Path, apps: Iterable[str] = APPS) -> list[Import]:
    modules = find_modules(root, apps)
    return [one for name in modules for one in _imports_of(name, modules, root)]


def _imports_of(module: str, modules: Mapping[str, Path], root: Path) -> Iterator[Import]:
    path = modules[module]
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    for statement, place in _statements(ast.parse(path.read_text()), Place.TOP):
        here = Import(module, "", (), str(path.relative_to(root)), statement.lineno, place)
        for target, names in sorted(_targets(statement, package, modules).items()):
            if target != module:
                yield replace(here, target=target, names=tuple(names))


def _statements(node: ast.AST, place: Place) -> Iterator[tuple[ast.Import | ast.ImportFrom, Place]]:
    """Yield every import below a node with the place it stands in; what is for types only stays so in a function."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            yield child, place
        elif isinstance(child, ast.If) and ast.unparse(child.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            yield from _statements(ast.Module(child.body, []), Place.TYPES)
            yield from _statements(ast.Module(child.orelse, []), place)
        elif isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield from _statements(child, place or Place.FUNCTION)
        else:
            yield from _statements(child, place)


def _targets(statement: ast.Import | ast.ImportFrom, package: str, modules: Mapping[str, Path]) -> dict[str, list[str]]:
    """Return the modules of the project that a statement imports, each with the names taken out of it."""
    targets: dict[str, list[str]] = {}
    if isinstance(statement, ast.Import):
        return {alias.name: [] for alias in statement.names if alias.name in modules}
    above = package.split(".")[: len(package.split(".")) - statement.level + 1] if statement.level else []
    base = ".".join([*above, *([statement.module] if statement.module else [])])
    for alias in statement.names:
        if (whole := f"{base}.{alias.name}") in modules:
            targets[whole] = []
        elif base in modules:
            targets.setdefault(base, []).append(alias.name)
    return targets


def room_of(module: str, depth: int = 1) -> str:
    return ".".join(module.split(".")[: depth + 1])


def room_arrows(imports: Iterable[Import], depth: int = 1) -> Arrows:
    """Group the imports by the two rooms they lead between."""
    return _grouped((room_of(one.source, depth), room_of(one.target, depth), one) for one in imports)


def module_arrows(imports: Iterable[Import], modules: Mapping[str, Path]) -> Arrows:
    """Group the imports by the two modules they lead between.

    Whoever imports a module runs the packages around it first, unless it lies in them itself.
    """
    ends = [(one.source, one.target, one) for one in imports]
    for one in imports:
        parts = one.target.split(".")
        for package in (".".join(parts[:length]) for length in range(1, len(parts))):
            if package in modules and not f"{one.source}.".startswith(f"{package}."):
                place = one.place or Place.PACKAGE
                ends.append((one.source, package, replace(one, place=place)))
    return _grouped(ends)


def _grouped(ends: Iterable[tuple[str, str, Import]]) -> Arrows:
    arrows: Arrows = defaultdict(list)
    for source, target, one in ends:
        if source != target:
            arrows[source, target].append(one)
    return dict(sorted(arrows.items()))


def graph_of(arrows: Iterable[tuple[str, str]], nodes: Iterable[str] = ()) -> Graph:
    graph: Graph = {node: set() for node in nodes}
    for source, target in arrows:
        graph.setdefault(source, set()).add(target)
        graph.setdefault(target, set())
    return graph


def find_circles(graph: Graph) -> list[list[str]]:
    """Return the sets of two and more nodes that all reach each other (strongly connected), the largest first."""
    reached = {node: _reachable(graph, node) for node in graph}
    circles = {tuple(sorted(other for other in reached[node] if node in reached[other])) for node in graph}
    return sorted((list(circle) for circle in circles if len(circle) > 1), key=lambda circle: (-len(circle), circle))


def _reachable(graph: Graph, start: str) -> set[str]:
    reached: set[str] = set()
    waiting = [start]
    while waiting:
        for target in graph[waiting.pop()] - reached:
            reached.add(target)
            waiting.append(target)
    return reached


def floors_of(graph: Graph) -> list[list[str]]:
    """Return the nodes floor by floor from the ground; all of a circle stand on one floor."""
    circle_of = {node: tuple(circle) for circle in find_circles(graph) for node in circle}
    floors: dict[tuple[str, ...], int] = {}

    def floor(node: str) -> int:
        block = circle_of.get(node, (node,))
        if block not in floors:
            below = {target for one in block for target in graph[one]} - set(block)
            floors[block] = max((floor(target) + 1 for target in below), default=0)
        return floors[block]

    heights = {node: floor(node) for node in sorted(graph)}
    return [
        [node for node in heights if heights[node] == number] for number in range(max(heights.values(), default=-1) + 1)
    ]


def describe_circles(arrows: Arrows) -> list[str]:
    """Say for each circle what is in it and, arrow by arrow, the files, lines and names that tie it."""
    words = []
    for circle in find_circles(graph_of(arrows)):
        lines = [f"{len(circle)} in a circle: {', '.join(circle)}"]
        for (source, target), imports in arrows.items():
            if source in circle and target in circle:
                lines += [f"  {source} -> {target}", *(f"    {one}" for one in imports)]
        words.append("\n".join(lines))
    return words


def imports_inside(imports: Iterable[Import], apps: Iterable[str]) -> list[Import]:
    return [one for one in imports if {room_of(one.source, 0), room_of(one.target, 0)} <= {*apps}]


def describe_rooms(apps: tuple[str, ...], imports: list[Import], modules: Iterable[str], depth: int) -> str:
    arrows = room_arrows(imports_inside(imports, apps), depth)
    rooms = {room_of(name, depth) for name in modules if room_of(name, 0) in apps}
    graph = graph_of(arrows, rooms)
    floors, circles = floors_of(graph), find_circles(graph)
    tied = sum(any({*ends} <= {*circle} for circle in circles) for ends in arrows)
    count = f"{len(rooms)} rooms, {len(floors)} floors, {len(arrows)} arrows, {tied} of them in circles"
    types = [one for row in arrows.values() for one in row if one.place is Place.TYPES]
    return "\n".join(
        [
            f"{', '.join(apps)}: {count}; circles: {len(circles)}",
            *(f"floor {number}: {', '.join(floors[number])}" for number in reversed(range(len(floors)))),
            *(f"{source} -> {', '.join(sorted(graph[source]))}" for source in sorted(graph) if graph[source]),
            *describe_circles(arrows),
            *(f"{one}" for one in types),
        ]
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.project.import_graph", description=__doc__)
    parser.add_argument("app", nargs="?", choices=[*APPS, "all"], default="all")
    parser.add_argument("--depth", type=int, default=1, help="packages below the app that make a room")
    chosen = parser.parse_args()
    imports, modules = read_imports(ROOT), find_modules(ROOT, APPS)
    for apps in [*((app,) for app in APPS), APPS] if chosen.app == "all" else [(chosen.app,)]:
        sys.stdout.write(describe_rooms(apps, imports, modules, chosen.depth) + "\n\n")
    arrows = module_arrows(imports, modules)
    sys.stdout.write(f"{len(modules)} modules, {len(arrows)} arrows between them\n")
    sys.stdout.write("".join(f"{words}\n" for words in describe_circles(arrows)))


if __name__ == "__main__":
    main()
