"""Past lessons copied from paper. Nobody here signed them: they are earlier training, never evidence for readiness."""

import hashlib
from collections import defaultdict
from datetime import date, datetime
from typing import Any

import rfc8785

from grading.exchange.handover.checking import PAPER_KIND, fingerprint_of
from grading.exchange.handover.form import RecordForm
from grading.exchange.imports.columns import Column, Plan, Record, count, day, minutes, read_rows, text
from grading.exchange.imports.roster import number
from grading.exchange.imports.tables import Table
from grading.exchange.receiving import Origin, receive
from grading.models import ReceivedBatch, ReceivedRecord
from lessons.models import COUNTED
from school.models import Person, School

FORMAT = 1
MOST_LANDINGS = 200
COLUMNS = (
    Column("reference", "School number", "of the student, who is here", number, True),
    Column("on", "Date", "as 2026-03-04", day, True, is_date=True),
    Column("unit", "Taught", "the unit or exercise in the words of the paper, up to 200 characters", text(200), True),
    Column("dual_minutes", "Dual", "hours, as 1.2 or 1:12", minutes),
    Column("solo_minutes", "Solo", "hours, as 1.2 or 1:12", minutes),
    Column("night_minutes", "Of it at night", "hours, as 1.2 or 1:12", minutes),
    Column("instrument_minutes", "Of it by instruments", "hours, as 1.2 or 1:12", minutes),
    Column("ground_minutes", "Ground instruction", "hours, as 1.2 or 1:12", minutes),
    Column("takeoffs", "Takeoffs", "a whole number", count),
    Column("landings", "Landings", "a whole number", count),
    Column("aircraft", "Aircraft", "as written on the paper", text(80)),
    Column("instructor", "Instructor", "the name as written on the paper", text(210), True),
    Column("certificate", "Certificate", "of the instructor, as written on the paper", text(80)),
    Column("school", "School", "where the lesson was given; empty: this school", text(200)),
    Column("remarks", "Remarks", "as written on the paper", text(2000)),
    Column("paper", "Where the paper lies", "so that it can be found again", text(200), True),
)
TITLES = {column.key: column.title for column in COLUMNS}


def plan(table: Table, on: date) -> Plan:
    """What would be taken in, or what is wrong. Three queries."""
    headings = ("School number", "Student", "Date", "Taught", "Dual", "Solo", "Landings", "Instructor")
    made = Plan(table.read_as, headings=headings)
    rows = read_rows(table, COLUMNS, made)
    students = _students(rows)
    here = _here(rows, students)
    seen: dict[str, int] = {}
    for row in rows:
        student = students.get(row["reference"])
        if student is None:
            said = "No student with this number is here: take the people in first."
            made.refuse(row.row, TITLES["reference"], row["reference"], said)
            continue
        _refuse(row, student, on, made)
        canonical = _canonical(row, student)
        row.values["canonical"] = canonical
        print_of = fingerprint_of(canonical)
        if print_of in seen:
            said = f"The same as row {seen[print_of]}: if it was flown twice, say so in the remarks."
            made.refuse(row.row, "", "", said)
        elif print_of in here:
            made.known.append((row.row, f"This lesson of {student.name} is here already."))
        else:
            made.new.append(row)
            made.shown.append(_words(row, student))
        seen[print_of] = row.row
    return made


def _students(rows: list[Record]) -> dict[str, Person]:
    found = Person.objects.filter(reference__in={row["reference"] for row in rows})
    return {row.reference: row for row in found if row.is_student}


def _here(rows: list[Record], students: dict[str, Person]) -> set[str]:
    prints = [
        fingerprint_of(_canonical(row, students[row["reference"]])) for row in rows if row["reference"] in students
    ]
    return set(ReceivedRecord.objects.filter(fingerprint__in=prints).values_list("fingerprint", flat=True))


def _refuse(row: Record, student: Person, on: date, made: Plan) -> None:
    if row["on"] > on:
        made.refuse(row.row, TITLES["on"], row["on"], "This day is still to come: what is past is taken in here.")
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
        if row[name] > MOST_LANDINGS:
            made.refuse(row.row, TITLES[name], row[name], f"More than {MOST_LANDINGS} in one lesson: divide it.")
        elif row[name] and not flown:
            made.refuse(row.row, TITLES[name], row[name], "Nothing was flown: enter the hours.")


def _canonical(row: Record, student: Person) -> str:
    """What is kept of a row and fingerprinted: RFC 8785 text of what was copied from the paper."""
    hours = {name.removesuffix("_minutes"): row[name] for name in COUNTED if name.endswith("_minutes")}
    words = ("unit", "aircraft", "instructor", "certificate", "school", "remarks", "paper", "takeoffs", "landings")
    content: dict[str, Any] = {
        "format": FORMAT,
        "record": "lesson on paper",
        "student": {"name": student.name, "reference": student.reference},
        "date": row["on"].isoformat(),
        "minutes": hours,
        **{name: row[name] for name in words},
    }
    return rfc8785.dumps(content).decode()


def _words(row: Record, student: Person) -> tuple[str, ...]:
    dual, solo = (f"{row[name] // 60}:{row[name] % 60:02d}" for name in ("dual_minutes", "solo_minutes"))
    day_words = f"{row['on']:%d %b %Y}"
    return student.reference, student.name, day_words, row["unit"], dual, solo, str(row["landings"]), row["instructor"]


def take_in(made: Plan, by: Person, at: datetime, file_name: str, content: bytes) -> int:
    """Keep the lessons, one sealed batch a student. How many lessons."""
    school = School.objects.get().name
    students = _students(made.new)
    grouped: dict[str, list[Record]] = defaultdict(list)
    for row in made.new:
        grouped[row["reference"]].append(row)
    for reference, rows in grouped.items():
        student = students[reference]
        origin = Origin(
            source=ReceivedBatch.Source.PAPER,
            school=school,
            student_name=student.name,
            student_reference=reference,
            file_name=file_name,
            digest=hashlib.sha256(content).hexdigest(),
            signature="Copied from paper: not signed here.",
            rows=[_record(row, school) for row in sorted(rows, key=lambda row: (row["on"], row.row))],
        )
        receive(student=student, origin=origin, by=by, at=at)
    return len(made.new)


def _record(row: Record, school: str) -> RecordForm:
    canonical = row["canonical"]
    return RecordForm(
        kind=PAPER_KIND,
        school=row["school"] or school,
        date=row["on"],
        canonical=canonical,
        fingerprint=fingerprint_of(canonical),
        seal=None,
        previous="",
        digest="",
        sealed_at=None,
        hands=[],
    )
