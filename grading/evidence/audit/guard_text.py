"""Read the guards as the migrations wrote them, to compare those of the database with them.

The text of every migration is followed in its order: what it creates, replaces, drops, and which table it renames.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache

from django.db.migrations import Migration
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations import RenameModel, RunSQL

APP_LABELS = ("school", "lessons", "grading")
FUNCTION = (
    r"CREATE\s+(?:OR\s+REPLACE\s+)?FUNCTION\s+(?P<function>\w+)\s*\((?P<header>.*?)\bAS\s+(?P<quote>\$\w*\$)"
    r"(?P<body>.*?)(?P=quote)"
)
TRIGGER = (
    r"CREATE\s+(?:CONSTRAINT\s+)?TRIGGER\s+(?P<trigger>\w+)\s+(?P<timing>BEFORE|AFTER)\s+(?P<events>[\w\s]+?)\s+ON\s+"
    r"(?P<table>\w+)(?P<when>.*?)EXECUTE\s+FUNCTION\s+(?P<runs>\w+)\((?P<arguments>.*?)\);"
)
DROPS = r"DROP\s+TRIGGER\s+(?P<dropped_trigger>\w+)\s+ON\s+(?P<of>\w+)|DROP\s+FUNCTION\s+(?P<dropped_function>\w+)"
STATEMENT = re.compile(f"{FUNCTION}|{TRIGGER}|{DROPS}", re.DOTALL)


@dataclass(frozen=True)
class Trigger:
    """A trigger in one form: what the migrations wrote and what the database says are equal in it."""

    events: frozenset[str]
    timing: str
    row: bool
    condition: str
    function: str
    arguments: tuple[str, ...]


@dataclass(frozen=True)
class Function:
    body: str
    definer: bool


@dataclass
class Guards:
    """Functions by their name; triggers by table and name."""

    functions: dict[str, Function] = field(default_factory=dict)
    triggers: dict[tuple[str, str], Trigger] = field(default_factory=dict)


# Once a process: migrations are files of the program, and not of the database that is audited.
@cache
def written_guards() -> Guards:
    """Return the guards that stand after every migration."""
    guards = Guards()
    loader = MigrationLoader(None)
    for name, migration in _in_order(loader):
        if name not in APP_LABELS:
            continue
        for operation in migration.operations:
            if isinstance(operation, RenameModel):
                _rename_table(guards, f"{name}_{operation.old_name_lower}", f"{name}_{operation.new_name_lower}")
            elif isinstance(operation, RunSQL):
                texts = [operation.sql] if isinstance(operation.sql, str) else list(operation.sql)
                for text in texts:
                    _follow(guards, text if isinstance(text, str) else text[0])
    return guards


def normal_condition(text: str) -> str:
    """Return a condition without what the database adds to it: parentheses, casts, spaces, capitals."""
    return re.sub(r"::\w+|[\s()\"]", "", text).lower()


def _in_order(loader: MigrationLoader) -> Iterator[tuple[str, Migration]]:
    seen = set()
    for leaf in sorted(node for node in loader.graph.leaf_nodes() if node[0] in APP_LABELS):
        for node in loader.graph.forwards_plan(leaf):
            if node not in seen:
                seen.add(node)
                yield node[0], loader.graph.nodes[node]


def _follow(guards: Guards, text: str) -> None:
    for found in STATEMENT.finditer(text):
        if name := found["function"]:
            guards.functions[name] = Function(found["body"], "SECURITY DEFINER" in found["header"])
        elif name := found["trigger"]:
            guards.triggers[found["table"], name] = _trigger(found)
        elif name := found["dropped_trigger"]:
            guards.triggers.pop((found["of"], name), None)
        else:
            guards.functions.pop(found["dropped_function"], None)


def _trigger(found: re.Match[str]) -> Trigger:
    condition = re.search(r"WHEN\s*\((.*)\)", found["when"], re.DOTALL)
    return Trigger(
        frozenset(event.strip().upper() for event in re.split(r"\bOR\b", found["events"])),
        found["timing"],
        "FOR EACH ROW" in found["when"],
        normal_condition(condition[1]) if condition else "",
        found["runs"],
        tuple(text.replace("''", "'") for text in re.findall(r"'((?:[^']|'')*)'", found["arguments"])),
    )


def _rename_table(guards: Guards, old: str, new: str) -> None:
    for table, name in [key for key in guards.triggers if key[0] == old]:
        guards.triggers[new, name] = guards.triggers.pop((table, name))
