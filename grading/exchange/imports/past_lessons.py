"""Import past lessons copied from paper. Nobody here signed them: earlier training.

Their grades are kept with them, and count as evidence only as far as the chief instructor decides.
"""

import hashlib
from collections import defaultdict
from datetime import date, datetime
from typing import Any

import rfc8785

from grading.exchange.handover.record_checks import PAPER_LESSON_KIND
from grading.exchange.handover.record_format import RecordEntry
from grading.exchange.handover.soundness import text_fingerprint
from grading.exchange.imports.import_columns import (
    Column,
    ImportPlan,
    ParsedRow,
    parse_count,
    parse_day,
    parse_minutes,
    parse_rows,
    text_parser,
)
from grading.exchange.imports.roster import parse_school_number
from grading.exchange.imports.table_reader import Table
from grading.exchange.receiving import BatchOrigin, receive_records
from grading.models import ReceivedBatch, ReceivedRecord
from lessons.models import AMOUNT_FIELDS, Manoeuvre
from lessons.rules.scale import Level
from school.models import Person, School

FORMAT = 1
# Far more than a lesson has: a higher number is a slip, or the total of several lessons.
MAX_LANDINGS = 200
# The parts of a circuit, each with a column of its own; the grades of everything else share one.
GRADED_PARTS = ("takeoff", "downwind", "approach", "landing", "go_around")
GRADES = {level.label.casefold(): level for level in Level if level.observed}


def parse_grade(typed: str) -> Level | None:
    """Read a level by its word; return None for an empty cell."""
    if not typed:
        return None
    if typed.casefold() not in GRADES:
        raise ValueError(f"Write one of {', '.join(level.label for level in GRADES.values())}, or nothing.")
    return GRADES[typed.casefold()]


def parse_other_grades(typed: str) -> dict[str, Level]:
    """Read levels of other manoeuvres, as “stalls: Practice; slip: Explain”; the codes are looked up later."""
    grades: dict[str, Level] = {}
    for pair in filter(None, map(str.strip, typed.split(";"))):
        code, colon, word = (text.strip() for text in pair.partition(":"))
        level = parse_grade(word)
        if not colon or not code or level is None:
            raise ValueError("Write the code of a manoeuvre, a colon and a level; a semicolon before the next one.")
        if code in grades:
            raise ValueError(f"“{code}” is graded twice: a lesson has one grade of a manoeuvre.")
        grades[code] = level
    return grades


def _grade_column(part: str) -> Column:
    words = f"{part.replace('_', '-').capitalize()} grade"
    explained = "the level that was flown without help; with help, or where nothing was written: empty"
    return Column(f"grade_{part}", words, explained, parse_grade)


COLUMNS = (
    Column("reference", "School number", "of the student, who is here", parse_school_number, True),
    Column("on", "Date", "as 2026-03-04", parse_day, True, is_date=True),
    Column(
        "unit", "Taught", "the unit or exercise in the words of the paper, up to 200 characters", text_parser(200), True
    ),
    Column("dual_minutes", "Dual", "hours, as 1.2 or 1:12", parse_minutes),
    Column("solo_minutes", "Solo", "hours, as 1.2 or 1:12", parse_minutes),
    Column("night_minutes", "Night (included)", "hours, as 1.2 or 1:12", parse_minutes),
    Column("instrument_minutes", "Instruments (included)", "hours, as 1.2 or 1:12", parse_minutes),
    Column("ground_minutes", "Ground instruction", "hours, as 1.2 or 1:12", parse_minutes),
    Column("takeoffs", "Takeoffs", "a whole number", parse_count),
    Column("landings", "Landings", "a whole number", parse_count),
    Column("aircraft", "Aircraft", "as written on the paper", text_parser(80)),
    Column("instructor", "Instructor", "the name as written on the paper", text_parser(210), True),
    Column("certificate", "Certificate", "of the instructor, as written on the paper", text_parser(80)),
    Column("school", "School", "where the lesson was given; empty: this school", text_parser(200)),
    Column("remarks", "Remarks", "as written on the paper", text_parser(2000)),
    Column("paper", "Where the paper is kept", "so that it can be found again", text_parser(200), True),
    *map(_grade_column, GRADED_PARTS),
    Column(
        "other_grades",
        "Other grades",
        "levels of other manoeuvres by their codes, as “stalls: Practice; slip: Explain”",
        parse_other_grades,
    ),
)
TITLES = {column.key: column.title for column in COLUMNS}


def plan_import(table: Table, on: date) -> ImportPlan:
    """Return what would be imported, or what is wrong. Three queries."""
    headings = ("School number", "Student", "Date", "Taught", "Dual", "Solo", "Landings", "Instructor", "Grades")
    made = ImportPlan(table.read_as, headings=headings)
    rows = parse_rows(table, COLUMNS, made)
    students = _students_by_number(rows)
    _refuse_unknown_manoeuvres(rows, made)
    here = _known_fingerprints(rows, students)
    seen: dict[str, int] = {}
    for row in rows:
        student = students.get(row["reference"])
        if student is None:
            said = "No student has this number: import the people first."
            made.refuse(row.row, TITLES["reference"], row["reference"], said)
            continue
        _refuse_contradictions(row, student, on, made)
        canonical = _canonical_text(row, student)
        row.values["canonical"] = canonical
        print_of = text_fingerprint(canonical)
        # Two equal rows may be a copied line or two equal lessons. Only a person knows, and the remark makes them
        # differ.
        if print_of in seen:
            said = f"The same as row {seen[print_of]}: if it was flown twice, say so in the remarks."
            made.refuse(row.row, "", "", said)
        # No problem, so that a table that was extended since can be imported again as a whole.
        elif print_of in here:
            made.known.append((row.row, f"This lesson of {student.name} is here already."))
        else:
            made.new.append(row)
            made.shown.append(_preview_cells(row, student))
        seen[print_of] = row.row
    return made


def _students_by_number(rows: list[ParsedRow]) -> dict[str, Person]:
    found = Person.objects.filter(reference__in={row["reference"] for row in rows})
    return {row.reference: row for row in found if row.is_student}


def _known_fingerprints(rows: list[ParsedRow], students: dict[str, Person]) -> set[str]:
    prints = [
        text_fingerprint(_canonical_text(row, students[row["reference"]]))
        for row in rows
        if row["reference"] in students
    ]
    return set(ReceivedRecord.objects.filter(fingerprint__in=prints).values_list("fingerprint", flat=True))


def _refuse_contradictions(row: ParsedRow, student: Person, on: date, made: ImportPlan) -> None:
    if row["on"] > on:
        made.refuse(row.row, TITLES["on"], row["on"], "This day is in the future: only past lessons can be imported.")
    # The day or the number of the student is wrong; a row that goes to the wrong student is hard to find later.
    if student.born and row["on"] <= student.born:
        made.refuse(row.row, TITLES["on"], row["on"], f"{student.name} was born after that day.")
    flown = row["dual_minutes"] + row["solo_minutes"]
    if not flown and not row["ground_minutes"]:
        made.refuse(row.row, TITLES["dual_minutes"], "", "Enter dual, solo or ground hours: a lesson takes time.")
    if flown > 24 * 60:
        made.refuse(row.row, TITLES["dual_minutes"], "", "Dual and solo together are more than a day.")
    for name in ("night_minutes", "instrument_minutes"):
        if row[name] > flown:
            made.refuse(row.row, TITLES[name], "", "More than was flown: it is a part of dual and solo.")
    for name in ("takeoffs", "landings"):
        if row[name] > MAX_LANDINGS:
            made.refuse(row.row, TITLES[name], row[name], f"More than {MAX_LANDINGS} in one lesson: divide it.")
        elif row[name] and not flown:
            made.refuse(row.row, TITLES[name], row[name], "Nothing was flown: enter the hours.")
    for part in GRADED_PARTS:
        if row[f"grade_{part}"] and not flown:
            made.refuse(row.row, TITLES[f"grade_{part}"], row[f"grade_{part}"].label, "Nothing was flown.")


def _refuse_unknown_manoeuvres(rows: list[ParsedRow], made: ImportPlan) -> None:
    graded = {code for row in rows for code in row["other_grades"]}
    # Of any issue: a code stays the same over issues, and the paper may be older than the newest.
    known = set(Manoeuvre.objects.filter(code__in=graded).values_list("code", flat=True)) if graded else set()
    for row in rows:
        for code in row["other_grades"]:
            if code in GRADED_PARTS:
                said = f"“{code}” has a column of its own: write the level there."
            elif code not in known:
                said = f"No manoeuvre of this school has the code “{code}”: the page of imports lists them."
            else:
                continue
            made.refuse(row.row, TITLES["other_grades"], code, said)


def _grades(row: ParsedRow) -> dict[str, str]:
    """Return the level of each manoeuvre that was graded, by its code."""
    parts = {part: row[f"grade_{part}"] for part in GRADED_PARTS if row[f"grade_{part}"]}
    return {code: level.value for code, level in {**parts, **row["other_grades"]}.items()}


def _canonical_text(row: ParsedRow, student: Person) -> str:
    """Return the text of a row that is stored and fingerprinted: RFC 8785 of what was copied from the paper."""
    hours = {name.removesuffix("_minutes"): row[name] for name in AMOUNT_FIELDS if name.endswith("_minutes")}
    words = ("unit", "aircraft", "instructor", "certificate", "school", "remarks", "paper", "takeoffs", "landings")
    content: dict[str, Any] = {
        "format": FORMAT,
        "record": "lesson on paper",
        "student": {"name": student.name, "reference": student.reference},
        "date": row["on"].isoformat(),
        "minutes": hours,
        **{name: row[name] for name in words},
    }
    # Left out where there are none: a row that was imported before grades could be is known by its text again.
    if grades := _grades(row):
        content["grades"] = grades
    return rfc8785.dumps(content).decode()


def _preview_cells(row: ParsedRow, student: Person) -> tuple[str, ...]:
    dual, solo = (f"{row[name] // 60}:{row[name] % 60:02d}" for name in ("dual_minutes", "solo_minutes"))
    day_words = f"{row['on']:%d %b %Y}"
    grades = ", ".join(f"{code.replace('_', '-')} {Level(level).label}" for code, level in _grades(row).items())
    cells = (student.reference, student.name, day_words, row["unit"], dual, solo, str(row["landings"]))
    return (*cells, row["instructor"], grades or "none")


def import_rows(made: ImportPlan, by: Person, at: datetime, file_name: str, content: bytes) -> int:
    """Store the lessons, one sealed batch a student; return how many lessons."""
    school = School.objects.get().name
    students = _students_by_number(made.new)
    grouped: dict[str, list[ParsedRow]] = defaultdict(list)
    for row in made.new:
        grouped[row["reference"]].append(row)
    # A batch belongs to one student, so that erasing that student takes nothing of the others with it.
    for reference, rows in grouped.items():
        student = students[reference]
        origin = BatchOrigin(
            source=ReceivedBatch.Source.PAPER,
            school=school,
            student_name=student.name,
            student_reference=reference,
            file_name=file_name,
            digest=hashlib.sha256(content).hexdigest(),
            signature="Copied from paper: not signed here.",
            rows=[_record_entry(row, school) for row in sorted(rows, key=lambda row: (row["on"], row.row))],
        )
        receive_records(student=student, origin=origin, by=by, at=at)
    return len(made.new)


def _record_entry(row: ParsedRow, school: str) -> RecordEntry:
    canonical = row["canonical"]
    return RecordEntry(
        kind=PAPER_LESSON_KIND,
        school=row["school"] or school,
        date=row["on"],
        canonical=canonical,
        fingerprint=text_fingerprint(canonical),
        # Nobody sealed paper: an invented seal would make a copied lesson look like a signed one.
        seal=None,
        previous="",
        digest="",
        sealed_at=None,
        hands=[],
    )
