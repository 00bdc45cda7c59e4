"""Import aircraft from a table, of types that exist here."""

import re
from datetime import date, datetime

from grading.exchange.imports.import_columns import Column, ImportPlan, parse_rows, parse_yes_or_no, text_parser
from grading.exchange.imports.table_reader import Table
from school import actions as school_actions
from school.models import Aircraft, AircraftType, Person


def parse_registration(typed: str) -> str:
    mark = typed.upper()
    if mark and not re.fullmatch(r"[A-Z0-9-]{2,12}", mark):
        raise ValueError("A registration has 2 to 12 letters, digits or hyphens.")
    return mark


COLUMNS = (
    Column("registration", "Registration", "2 to 12 letters, digits or hyphens", parse_registration, True),
    Column("type", "Type", "code of an aircraft type that is here", text_parser(20), True),
    Column("in_service", "In service", "yes or no; empty: yes", parse_yes_or_no),
)


def plan_import(table: Table, on: date) -> ImportPlan:
    """Return what would be imported, or what is wrong. Two queries."""
    made = ImportPlan(table.read_as, headings=("Registration", "Type", "In service"))
    here = {row.registration.upper(): row for row in Aircraft.objects.select_related("type")}
    types = {row.code: row for row in AircraftType.objects.all()}
    seen: dict[str, int] = {}
    for row in parse_rows(table, COLUMNS, made):
        mark = row["registration"]
        # Two rows may differ in type or service, and nobody can tell which one is meant.
        if mark in seen:
            made.refuse(row.row, "Registration", mark, f"Row {seen[mark]} has it too: one row for an aircraft.")
            continue
        seen[mark] = row.row
        if row["type"] not in types:
            said = f"There is no such code. There are: {', '.join(sorted(types)[:12]) or 'none'}."
            made.refuse(row.row, "Type", row["type"], said)
        # Not corrected by a table: lessons already signed name this aircraft with its type.
        elif mark in here and here[mark].type.code != row["type"]:
            made.refuse(row.row, "Type", row["type"], f"{mark} is here as {here[mark].type.name}.")
        elif mark in here:
            made.known.append((row.row, f"{mark} is here: nothing about it is changed."))
        else:
            made.new.append(row)
            made.shown.append((mark, types[row["type"]].name, "yes" if row["in_service"] else "no"))
    return made


def import_rows(made: ImportPlan, by: Person, at: datetime) -> int:
    """Add the aircraft and return how many."""
    types = {row.code: row for row in AircraftType.objects.all()}
    for row in made.new:
        # By the action and not in bulk, so that each aircraft has its entry in the journal.
        school_actions.add_aircraft(
            registration=row["registration"], type=types[row["type"]], in_service=row["in_service"], by=by, at=at
        )
    return len(made.new)
