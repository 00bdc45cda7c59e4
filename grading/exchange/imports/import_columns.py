"""Explain, read and refuse the columns of a table, by row and column."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError

from grading.exchange.imports.table_reader import Table, TableRow
from lessons.fields import EARLIEST_DAY, LATEST_DAY, HoursField, is_plausible_date

# A wrong cell may hold a whole text; its beginning is enough to find it.
MAX_SHOWN_CHARACTERS = 80
# Of the cells with the same fault; all their rows are named.
MAX_CONTENTS_SHOWN = 5


@dataclass(frozen=True)
class Column:
    """A column of a table. `read` turns typed text into a value, or raises ValueError with what to write."""

    key: str
    title: str
    explained: str
    read: Callable[[str], Any]
    required: bool = False
    is_date: bool = False

    @property
    def line(self) -> str:
        return f"{self.title}: {'required; ' if self.required else ''}{self.explained}"


@dataclass(frozen=True)
class CellProblem:
    """What is wrong in one cell; `column` is empty where the whole row is meant."""

    row: int
    column: str
    typed: str
    sentence: str


@dataclass(frozen=True)
class ProblemGroup:
    """One sentence for every cell of a column that it is true of. `rows` as “2, 5–9”; `typed`: the first contents."""

    rows: str
    column: str
    typed: tuple[str, ...]
    sentence: str
    cells: int


def group_problems(problems: Iterable[CellProblem]) -> list[ProblemGroup]:
    """Say each sentence once for its column, with the rows, in the order in which they first come."""
    grouped: dict[tuple[str, str], list[CellProblem]] = {}
    for problem in problems:
        grouped.setdefault((problem.column, problem.sentence), []).append(problem)
    return [
        ProblemGroup(
            row_ranges([one.row for one in found]),
            column,
            tuple(dict.fromkeys(one.typed for one in found))[:MAX_CONTENTS_SHOWN],
            sentence,
            len(found),
        )
        for (column, sentence), found in grouped.items()
    ]


def row_ranges(rows: Iterable[int]) -> str:
    """Return rows as “2, 5–9”; 0, the headings, as nothing."""
    runs: list[list[int]] = []
    for row in sorted({row for row in rows if row}):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return ", ".join(str(first) if first == last else f"{first}–{last}" for first, last in runs)


@dataclass(frozen=True)
class ParsedRow:
    """One row as values, by the keys of the columns."""

    row: int
    values: dict[str, Any]

    def __getitem__(self, key: str) -> Any:
        return self.values[key]


@dataclass
class ImportPlan:
    """What importing a table would do; with a problem nothing is imported."""

    read_as: str
    problems: list[CellProblem] = field(default_factory=list)
    new: list[ParsedRow] = field(default_factory=list)
    known: list[tuple[int, str]] = field(default_factory=list)
    # What is shown of each new row: a heading and as many words as there are rows.
    headings: tuple[str, ...] = ()
    shown: list[tuple[str, ...]] = field(default_factory=list)

    def refuse(self, row: int, column: str, typed: object, sentence: str) -> None:
        self.problems.append(CellProblem(row, column, str(typed)[:MAX_SHOWN_CHARACTERS], sentence))


def parse_rows(table: Table, columns: Iterable[Column], plan: ImportPlan) -> list[ParsedRow]:
    """Read every row as values; problems go into the plan, and a row with a wrong cell is left out."""
    columns = list(columns)
    places = _column_positions(table, columns, plan)
    # With a wrong heading every row below it would be wrong too: the headings are corrected first.
    if plan.problems:
        return []
    if not table.rows:
        plan.refuse(0, "", "", "There are headings and no row under them: fill in at least one.")
    found = []
    for row in table.rows:
        before = len(plan.problems)
        values = {column.key: _parse_cell(row, column, places, table, plan) for column in columns}
        if len(plan.problems) == before:
            found.append(ParsedRow(row.number, values))
    return found


def _column_positions(table: Table, columns: list[Column], plan: ImportPlan) -> Mapping[str, int]:
    known = {_normalise_heading(column.title): column.key for column in columns}
    places: dict[str, int] = {}
    for place, heading in enumerate(table.headings):
        key = known.get(_normalise_heading(heading))
        if key is None:
            # Refused and not ignored: a misspelt heading would silently lose its whole column.
            said = f"There is no such column. There are: {', '.join(column.title for column in columns)}."
            plan.refuse(0, heading, heading, said)
        elif key in places:
            plan.refuse(0, heading, heading, "This column is there twice: delete one.")
        else:
            places[key] = place
    for column in columns:
        if column.required and column.key not in places:
            plan.refuse(0, column.title, "", "This column is required and missing: download the example.")
    return places


def _normalise_heading(heading: str) -> str:
    return re.sub(r"[\s_]+", " ", heading).strip().casefold()


def _parse_cell(row: TableRow, column: Column, places: Mapping[str, int], table: Table, plan: ImportPlan) -> Any:
    typed = row.cells[places[column.key]] if column.key in places else ""
    if not typed and column.required:
        plan.refuse(row.number, column.title, "", f"Required: {column.explained}.")
        return None
    # A spreadsheet stores a day as a number. Five digits are days from about 1930 on; fewer are more likely a slip.
    if column.is_date and table.epoch and re.fullmatch(r"\d{5}", typed):
        typed = (table.epoch + timedelta(days=int(typed))).isoformat()
    try:
        return column.read(typed)
    except ValidationError as error:
        plan.refuse(row.number, column.title, typed, " ".join(error.messages))
    except ValueError as error:
        plan.refuse(row.number, column.title, typed, str(error))
    return None


def text_parser(most: int) -> Callable[[str], str]:
    def read(typed: str) -> str:
        if len(typed) > most:
            raise ValueError(f"It has {len(typed)} characters: {most} at most.")
        return typed

    return read


def parse_day(typed: str) -> date | None:
    """Read a day; return None for an empty cell."""
    if not typed:
        return None
    try:
        # The pattern comes first, because fromisoformat() also reads other forms, such as weeks.
        found = date.fromisoformat(typed) if re.fullmatch(r"\d{4}-\d{2}-\d{2}", typed) else None
    except ValueError:
        raise ValueError("There is no such day: write year, month, day as 2026-03-04.") from None
    if found is None:
        raise ValueError("A day is written 2026-03-04: other ways can be read in two ways.")
    if not is_plausible_date(found):
        raise ValueError(f"It lies outside {EARLIEST_DAY.year} to {LATEST_DAY.year}: check the year.")
    return found


def parse_minutes(typed: str) -> int:
    return HoursField().to_python(typed)


def parse_count(typed: str) -> int:
    if not typed:
        return 0
    # Not \d, which means the digits of every script.
    if not re.fullmatch(r"[0-9]{1,3}", typed):
        raise ValueError("Write a whole number, 0 to 999.")
    return int(typed)


def parse_yes_or_no(typed: str) -> bool:
    if typed.casefold() not in ("", "yes", "no"):
        raise ValueError("Write yes or no.")
    return typed.casefold() != "no"
