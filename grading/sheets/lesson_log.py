"""Lay out the lessons of a complete record: a circuit is a row, a number stands in the column of its gate.

Everything comes from the content that was sealed. What has no column stands in words on the line below.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from grading.sheets.log_columns import (
    FEW_COLUMNS,
    PARTS,
    NumberColumn,
    attempts_of,
    choose_columns,
    gate_name,
    group_lessons,
    in_sentence,
    target_of,
)
from grading.sheets.signs import Mark, Signs
from lessons.rules.scale import Part
from school.formats import write_clock, write_day, write_hours, write_list, write_number, write_tolerance, write_wind

SHORT_WORD = 4  # a longer one, bold at 8 points, touches the name beside it
Plain = Mapping[str, Any]


@dataclass(frozen=True)
class Cell:
    """A number of a circuit; empty where nothing was noted."""

    text: str = ""
    outside: bool = False


@dataclass(frozen=True)
class PrintedGrade:
    """A part or a subject as graded: level and help of its mark, and the step in words."""

    level: str
    help: str
    step: str


@dataclass(frozen=True)
class PrintedCircuit:
    number: int
    parts: list[PrintedGrade | None]
    ending: str
    cells: list[Cell]
    notes: list[tuple[str, str]]


@dataclass(frozen=True)
class Subject:
    grade: PrintedGrade
    words: str


@dataclass(frozen=True)
class LogLesson:
    """One version of a lesson as it is printed; `plain` is the sealed record."""

    plain: Plain
    title: str
    time: str
    line: str
    circuits: list[PrintedCircuit]
    subjects: list[Subject]
    marks: list[Mark]


@dataclass
class LogTable:
    """Lessons under one head. gates: name of the gate and how many columns it has."""

    columns: list[NumberColumn] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    gates: list[tuple[str, int]] = field(default_factory=list)
    lessons: list[LogLesson] = field(default_factory=list)

    @property
    def is_wide(self) -> bool:
        """Return whether the numbers share the width that is left; few of them have a width of their own."""
        return len(self.columns) > FEW_COLUMNS

    @property
    def long_columns(self) -> list[bool]:
        """Return for each column whether a long word of its gate's name stands over it alone."""
        return [
            wide == 1 and max(map(len, re.split(r"[ -]", name))) > SHORT_WORD
            for name, wide in self.gates
            for _ in range(wide)
        ]

    @property
    def width(self) -> int:
        """Return the number of columns of the table."""
        return 2 + len(self.parts) + len(self.columns)

    @property
    def notes_width(self) -> int:
        return self.width - 1

    @property
    def has_circuits(self) -> bool:
        return any(lesson.circuits for lesson in self.lessons)


def lay_out_log(content: Plain, signs: Signs) -> list[LogTable]:
    """Return the tables in the order of the lessons; one without columns where no circuit was flown."""
    return [_table(group, content, signs) for group in group_lessons(content["lessons"])]


def _table(lessons: list[Plain], content: Plain, signs: Signs) -> LogTable:
    columns = choose_columns(lessons, content.get("gate_order", []))
    flown = [circuit for lesson in lessons for circuit in lesson["circuits"]]
    parts = [part for part in PARTS if any(circuit.get(part) for circuit in flown)]
    grouped = groupby(columns, key=lambda column: column.gate)
    gates = [(gate_name(gate, content), len(list(rows))) for gate, rows in grouped]
    table = LogTable(columns, [part.value for part in parts], gates)
    table.lessons = [_LessonPrinter(row, content, table, signs).lesson() for row in lessons]
    return table


@dataclass
class _LessonPrinter:
    plain: Plain
    content: Plain
    table: LogTable
    signs: Signs

    def lesson(self) -> LogLesson:
        row = self.plain
        version = f", version {row['version']}" if row["version"] > 1 else ""
        day = write_day(datetime.fromisoformat(row["date"]).date())
        title = f"Lesson {row['number']}{version}, {day}: unit {row['unit']['number']}, {row['unit']['title']}"
        return LogLesson(row, title, self._time(), self._line(), self._circuits(), self._subjects(), self._marks())

    def _time(self) -> str:
        flown = [f"{kind} {write_hours(self.plain['minutes'][kind])} h" for kind in
                 ("dual", "solo", "night", "instrument", "ground") if self.plain["minutes"][kind]]  # fmt: skip
        return f"{', '.join(flown) or self.plain['unit']['kind']} with {self._instructor_sign()}"

    def _instructor_sign(self) -> str:
        return self.signs.signer(self.plain["signature"]).sign

    def _line(self) -> str:
        row, sentences = self.plain, []
        if row["aircraft"]:
            other = row["aircraft_type"] != self.content["enrolment"]["aircraft_type"]
            sentences.append(f"{row['aircraft']}, {row['aircraft_type']}" if other else row["aircraft"])
        if row["runway"]:
            sentences.append(row["runway"])
        if row["off_blocks"] and row["on_blocks"]:
            begin, end = (write_clock(datetime.fromisoformat(row[name])) for name in ("off_blocks", "on_blocks"))
            sentences.append(f"{begin} to {end} UTC")
        if row["takeoffs"] or row["landings"]:
            sentences.append(f"Takeoffs {row['takeoffs']}, landings {row['landings']}")
        wind = row["wind"]
        if wind["speed_kt"] is not None:
            blowing = write_wind(wind["from"], wind["speed_kt"], wind["gust_kt"], wind.get("north", ""))
            sentences.append(f"Wind {blowing}")
        if row.get("weather_report"):
            sentences.append(row["weather_report"])
        return ". ".join(sentences) + "." * bool(sentences)

    def _circuits(self) -> list[PrintedCircuit]:
        outside = {(number, gate, quantity) for number, gate, quantity in self.plain.get("outside", ())}
        return [self._circuit(circuit, outside) for circuit in self.plain["circuits"]]

    def _circuit(self, circuit: Plain, outside: set[tuple[Any, str, str]]) -> PrintedCircuit:
        number = circuit["number"]
        noted = {(row["gate"], row["quantity"]): row for _, tried in attempts_of(circuit) for row in tried["measures"]}
        cells = [
            _cell(noted.get(column.key), column, outside=(number, *column.key) in outside)
            for column in self.table.columns
        ]
        parts = [_grade(circuit[part]) if circuit.get(part) else None for part in self.table.parts]
        notes = [(part.replace("_", "-").capitalize(), words) for part, tried in attempts_of(circuit)
                 if (words := self._words(tried, part))]  # fmt: skip
        more = ["shown by the instructor"] * bool(circuit["shown"])
        more += [circuit["landing_kind"].replace("_", " ")] * bool(circuit.get("landing_kind"))
        return PrintedCircuit(
            number, parts, circuit["ending"].replace("_", " "), cells, notes + [("", w) for w in more]
        )

    def _words(self, tried: Plain, part: str = "") -> str:
        """Return what was seen in an attempt beside its step: help, faults, criteria, numbers without a column."""
        words = [tried["help"].replace("_", " ")] * (tried["help"] != "none" and bool(part))
        if part == Part.GO_AROUND:
            words.insert(0, _grade(tried).step)
        if tried.get("counted") and tried["counted"] != tried["level"]:
            words.append(f"counts as {_as_words(tried['counted'])}")
        if tried.get("kept"):
            words.append(f"kept as tapped: {tried['kept']}")
        names = self.content["names"]
        words += [in_sentence(names.get(code) or code.replace("-", " ")) for code in tried["faults"]]
        words += self._criteria(tried)
        own = {column.key for column in self.table.columns} if part else set()
        words += [self._number(row) for row in tried["measures"] if (row["gate"], row["quantity"]) not in own]
        return ", ".join(words)

    def _criteria(self, tried: Plain) -> Iterator[str]:
        titles = self.content.get("criteria", {}).get(tried["manoeuvre"], {})
        for done, word in ((True, "done"), (False, "not done")):
            codes = [code for code, was_done in tried.get("criteria", {}).items() if was_done is done]
            if codes:
                yield f"{word}: {write_list(in_sentence(titles.get(code) or code.replace('-', ' ')) for code in codes)}"

    def _number(self, row: Plain) -> str:
        value, over, under, unit = target_of(row)
        asked = f"{write_number(Decimal(value))} {' '.join(write_tolerance(Decimal(over), Decimal(under)))} {unit}"
        gate = gate_name(row["gate"], self.content)
        track = f" {row['from_track']} from a track" * ("from_track" in row)
        return f"{gate} {row['quantity']} {write_number(Decimal(row['value']))} {row['unit']}{track} (target {asked})"

    def _subjects(self) -> list[Subject]:
        tried: dict[str, list[Plain]] = {}
        for row in self.plain["manoeuvres"]:
            tried.setdefault(row["manoeuvre"], []).append(row)
        return [*(self._graded(grade, tried.pop(grade["manoeuvre"], [])) for grade in self.plain["grades"]),
                *(self._seen(code, row) for code, rows in tried.items() for row in rows)]  # fmt: skip

    def _graded(self, grade: Plain, tried: Iterable[Plain]) -> Subject:
        step = _as_words(grade.get("given_step") or grade["given"])
        words = [f"{grade['title']}: {step}"]
        words += [grade["help"].replace("_", " ")] * (grade["help"] not in ("none", ""))
        said = ", ".join(words)
        if grade["given"] != grade["proposed"]:
            said += f" (proposed {_as_words(grade.get('proposed_step') or grade['proposed'])})"
        for row in tried:
            seen = f"seen {_grade(row).step}" if _grade(row).step != step else ""
            said += "".join(f"; {part}" for part in (seen, self._words(row)) if part)
        return Subject(PrintedGrade(grade["given"] or "not_observed", grade["help"] or "none", step), said)

    def _seen(self, code: str, row: Plain) -> Subject:
        grade = _grade(row)
        title = self.content["names"].get(code) or code.replace("_", " ")
        help_ = f", {grade.help.replace('_', ' ')}" if grade.help != "none" else ""
        more = self._words(row)
        return Subject(grade, f"{title}: {grade.step}{help_}{f'; {more}' if more else ''}")

    def _marks(self) -> list[Mark]:
        day = self.plain["date"]
        marks = [self.signs.mark(self.plain["signature"], day)]
        marks += [self.signs.mark(row["signature"], day) for row in self.plain["acknowledgements"]]
        if not self.plain["acknowledgements"]:
            marks.append(Mark("waiting", "Student", "not signed yet"))
        return marks


def _grade(tried: Plain) -> PrintedGrade:
    level = tried.get("counted") or tried["level"] or "not_observed"
    return PrintedGrade(
        level, tried["help"] or "none", _as_words(tried.get("step") or tried["level"] or "not_observed")
    )


def _cell(row: Plain | None, column: NumberColumn, *, outside: bool) -> Cell:
    if row is None:
        return Cell()
    unit = row.get("unit") or column.unit
    number = write_number(Decimal(row["value"]))
    # Noted in another unit than the others: as it was sealed, with its unit. T: from a flight track, not seen.
    text = number if unit == column.unit else f"{number} {unit}"
    return Cell(f"{text} T" if "from_track" in row else text, outside)


def _as_words(code: str) -> str:
    return code.replace("_", " ").capitalize()
