"""Read and write a syllabus as one file, YAML or JSON, with its JSON Schema and its problems by line.

A file is read whole or not at all. The form is also what a draft holds and what a published issue is exported as.
"""

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import msgspec
import yaml

from lessons.rules.gear import Gear
from lessons.rules.scale import Ending, Part, UnitKind

# Patterns and lengths are those of the columns (lessons/models/syllabus.py): what passes here can be stored.
Code = Annotated[str, msgspec.Meta(pattern="^[A-Za-z0-9_-]+$", min_length=1, max_length=40)]
LongCode = Annotated[str, msgspec.Meta(pattern="^[A-Za-z0-9_-]+$", min_length=1, max_length=50)]
ItemCode = Annotated[str, msgspec.Meta(min_length=1, max_length=30)]
Line = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
Title = Annotated[str, msgspec.Meta(min_length=1, max_length=60)]
UnitTitle = Annotated[str, msgspec.Meta(min_length=1, max_length=80)]
Short = Annotated[str, msgspec.Meta(max_length=40)]
Text = Annotated[str, msgspec.Meta(min_length=1, max_length=4000)]
SIGN_PATTERN = r"^[A-Za-z0-9_-]+\.(height|speed|distance|bank)\.(over|under)$"
Sign = Annotated[str, msgspec.Meta(pattern=SIGN_PATTERN, max_length=60)]
Number = Annotated[int, msgspec.Meta(ge=1, le=999)]
Phase = Literal[
    "ground",
    "takeoff",
    "climb",
    "joining",
    "circuit",
    "approach",
    "landing",
    "roll_out",
    "go_around",
    "upper_air",
    "emergencies",
]


# Unknown fields are refused: a misspelt one would otherwise be lost without a word.
class FileFormBase(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    pass


# A syllabus may leave the downwind leg out: a standard names the parts that it asks for.
REQUIRED_PARTS = tuple(part for part in Part if part is not Part.DOWNWIND)


class ItemForm(FileFormBase, frozen=True):
    code: ItemCode
    text: Line


class CriterionForm(FileFormBase, frozen=True):
    code: LongCode
    text: Line
    kind: Literal["observed", "measured"]
    gate: Short | None = None
    quantity: Literal["height", "speed", "distance", "bank", "power", "propeller"] | None = None
    from_unit: Number | None = None
    gear: Gear = Gear.ANY


class ManoeuvreForm(FileFormBase, frozen=True):
    code: Code
    title: Title
    phase: Phase
    items: list[ItemCode] = []
    tailwheel_only: bool = False
    reference: Annotated[str, msgspec.Meta(max_length=120)] = ""
    criteria: list[CriterionForm] = []


class FaultForm(FileFormBase, frozen=True):
    code: LongCode
    name: Annotated[str, msgspec.Meta(min_length=1, max_length=40)]
    manoeuvres: Annotated[list[Code], msgspec.Meta(min_length=1)]
    critical: bool
    cause: Text
    cure: Text
    source: Line
    signs: list[Sign] = []
    gear: Gear = Gear.ANY


class GradedForm(FileFormBase, frozen=True):
    code: Code
    # Not observed is missing evidence and no level, so it is not in this list.
    expected: Literal["describe", "explain", "practice", "perform"]
    compulsory: bool = False


class UnitForm(FileFormBase, frozen=True):
    number: Number
    title: UnitTitle
    kind: UnitKind
    aim: Text
    brief: Annotated[str, msgspec.Meta(max_length=4000)] = ""
    exercises: Short = ""
    flies_circuits: bool = False
    ending: Ending = Ending.FULL_STOP
    manoeuvres: list[GradedForm] = []


class StageForm(FileFormBase, frozen=True):
    number: Number
    title: Title
    units: Annotated[list[UnitForm], msgspec.Meta(min_length=1)]


class SyllabusForm(FileFormBase, frozen=True):
    code: Code
    title: Annotated[str, msgspec.Meta(min_length=1, max_length=100)]
    issue: Number
    rule: Line
    scale: Code
    items: list[ItemForm]
    manoeuvres: list[ManoeuvreForm]
    faults: list[FaultForm]
    stages: Annotated[list[StageForm], msgspec.Meta(min_length=1)]


@dataclass(frozen=True, slots=True)
class FileProblem:
    """Describe one problem.

    `field`: its path, such as stages[0].units[2].aim. `line`: its line in the file, from 1; None without a file.
    """

    field: str
    sentence: str
    line: int | None = None

    def __str__(self) -> str:
        where = f"line {self.line}, {self.field}" if self.line else self.field
        return f"{where}: {self.sentence}" if where else self.sentence


class InvalidSyllabusFile(ValueError):
    """Refuse a file whole. `problems` says what, where and what was expected."""

    def __init__(self, problems: list[FileProblem]) -> None:
        super().__init__("; ".join(str(problem) for problem in problems))
        self.problems = problems


# libyaml's loader where the package has it: ten times as fast, with the same result.
Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
MAX_DEPTH = 50  # a syllabus is six deep


def _refuse_unsafe_yaml(text: str) -> None:
    """Refuse aliases and depth, with which a small file can expand beyond all memory, and tags."""
    # In the events, before anything is built: it is the building that runs out of memory.
    depth = 0
    for event in yaml.parse(text, Loader=Loader):
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if isinstance(event, yaml.AliasEvent):
            problem = "an alias (*) is not allowed: write it out"
        elif depth > MAX_DEPTH:
            problem = f"more than {MAX_DEPTH} levels"
        # A tag makes the loader convert a value, and “!!float ''” was then an error of the server.
        elif getattr(event, "tag", None):
            problem = "a tag (!) is not allowed: remove it"
        else:
            continue
        mark: Any = event.start_mark
        raise yaml.MarkedYAMLError(problem=problem, problem_mark=mark)


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the file."""
    return msgspec.json.schema(SyllabusForm)


def parse_syllabus(text: str) -> SyllabusForm:
    """Parse YAML or JSON. Raises InvalidSyllabusFile with every problem and its line."""
    try:
        _refuse_unsafe_yaml(text)
        content = yaml.load(text, Loader=Loader)  # noqa: S506 - a SafeLoader
    # ValueError: the loader itself builds dates, and fails on a day that no month has.
    except (yaml.YAMLError, ValueError) as error:
        mark = getattr(error, "problem_mark", None)
        said = getattr(error, "problem", None) or "this is neither YAML nor JSON"
        raise InvalidSyllabusFile(
            [FileProblem("", f"This cannot be read: {said}.", mark.line + 1 if mark else None)]
        ) from error
    found = validate_content(content)
    if isinstance(found, SyllabusForm):
        return found
    tree = yaml.compose(text, Loader=Loader)  # again, for the lines: only a wrong file pays for it
    raise InvalidSyllabusFile([FileProblem(row.field, row.sentence, _find_line(tree, row.field)) for row in found])


def validate_content(content: Any) -> SyllabusForm | list[FileProblem]:
    """Return the form of plain values, or every problem with them."""
    try:
        form = msgspec.convert(content, SyllabusForm)
    except msgspec.ValidationError as error:
        # msgspec stops at the first wrong field and names it behind “ - at ”, with “$” for the whole file.
        said, _, path = str(error).partition(" - at ")
        return [FileProblem(path.strip("`").removeprefix("$").removeprefix("."), said.rstrip(".") + ".")]
    return list(find_contradictions(form)) or form


def to_content(form: SyllabusForm) -> dict[str, Any]:
    content: dict[str, Any] = msgspec.to_builtins(form)
    return content


def to_json(form: SyllabusForm) -> str:
    return json.dumps(to_content(form), ensure_ascii=False, indent=1) + "\n"


def to_yaml(form: SyllabusForm) -> str:
    # In the order of the form, so that two issues can be compared line by line.
    text: str = yaml.dump(to_content(form), Dumper=Dumper, allow_unicode=True, sort_keys=False, width=110)
    return text


def find_contradictions(form: SyllabusForm) -> Iterator[FileProblem]:
    """Find problems in a well-formed syllabus: duplicate codes and references to missing ones."""
    items = {row.code for row in form.items}
    manoeuvres = {row.code for row in form.manoeuvres}
    yield from _find_duplicates("items", (row.code for row in form.items))
    yield from _find_duplicates("manoeuvres", (row.code for row in form.manoeuvres))
    yield from _find_duplicates("faults", (row.code for row in form.faults))
    for place, manoeuvre in enumerate(form.manoeuvres):
        yield from _manoeuvre_problems(f"manoeuvres[{place}]", manoeuvre, items)
    for place, fault in enumerate(form.faults):
        for at, code in enumerate(fault.manoeuvres):
            if code not in manoeuvres:
                yield FileProblem(f"faults[{place}].manoeuvres[{at}]", f"There is no manoeuvre “{code}”.")
    yield from _unit_problems(form, manoeuvres)


def _manoeuvre_problems(path: str, manoeuvre: ManoeuvreForm, items: set[str]) -> Iterator[FileProblem]:
    for at, code in enumerate(manoeuvre.items):
        if code not in items:
            yield FileProblem(f"{path}.items[{at}]", f"There is no item “{code}”.")
    yield from _find_duplicates(f"{path}.criteria", (row.code for row in manoeuvre.criteria))
    for at, criterion in enumerate(manoeuvre.criteria):
        measured = criterion.kind == "measured"
        if measured != bool(criterion.gate and criterion.quantity) or measured != bool(
            criterion.gate or criterion.quantity
        ):
            said = "A measured criterion names a gate and a quantity, an observed one names neither."
            yield FileProblem(f"{path}.criteria[{at}]", said)


def _unit_problems(form: SyllabusForm, manoeuvres: set[str]) -> Iterator[FileProblem]:
    numbers: list[int] = []
    yield from _find_duplicates("stages", (stage.number for stage in form.stages))
    for place, stage in enumerate(form.stages):
        for at, unit in enumerate(stage.units):
            path = f"stages[{place}].units[{at}]"
            # Numbers rise over all stages: “counts from unit” of a criterion is compared with any unit's.
            if numbers and unit.number <= numbers[-1]:
                yield FileProblem(
                    f"{path}.number", f"Unit {unit.number} comes after unit {numbers[-1]}: number them consecutively."
                )
            numbers.append(unit.number)
            asked = REQUIRED_PARTS if unit.flies_circuits else ()
            lacking = [part.value for part in asked if part.value not in manoeuvres]
            if lacking:
                said = f"It flies circuits, and there is no manoeuvre with the code {', '.join(lacking)}."
                yield FileProblem(f"{path}.flies_circuits", said)
            if unit.kind is UnitKind.GROUND and unit.flies_circuits:
                yield FileProblem(f"{path}.flies_circuits", "A ground unit flies no circuits.")
            yield from _find_duplicates(f"{path}.manoeuvres", (row.code for row in unit.manoeuvres))
            for which, graded in enumerate(unit.manoeuvres):
                if graded.code not in manoeuvres:
                    yield FileProblem(f"{path}.manoeuvres[{which}].code", f"There is no manoeuvre “{graded.code}”.")


def _find_duplicates(path: str, codes: Iterable[Any]) -> Iterator[FileProblem]:
    listed = list(codes)
    for code, count in Counter(listed).items():
        if count > 1:
            last = len(listed) - 1 - listed[::-1].index(code)
            yield FileProblem(f"{path}[{last}]", f"“{code}” is used {count} times: each needs its own code.")


def _find_line(tree: yaml.Node | None, field: str) -> int | None:
    """Return the line of a path in the file, or of its nearest existing parent."""
    node = tree
    for key, index in re.findall(r"([^.\[\]]+)|\[(\d+)\]", field):
        below: yaml.Node | None = None
        if key and isinstance(node, yaml.MappingNode):
            below = next((value for name, value in node.value if name.value == key), None)
        elif index and isinstance(node, yaml.SequenceNode) and int(index) < len(node.value):
            below = node.value[int(index)]
        if below is None:
            break
        node = below
    return node.start_mark.line + 1 if node is not None else None
