"""Import people with their roles and enrolments from a table. It sets no password, so it lets nobody log in."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError

from grading.exchange.imports.import_columns import Column, ImportPlan, ParsedRow, parse_day, parse_rows, text_parser
from grading.exchange.imports.table_reader import Table
from lessons import actions as lesson_actions
from lessons.models import Enrolment, Syllabus
from school import actions as school_actions
from school.models import AircraftType, Person, Role

ROLES_BY_WORD = {role.label: role for role in Role} | {role.value: role for role in Role}
SCHOOL_NUMBER = r"[A-Za-z0-9][A-Za-z0-9./-]{0,19}"


def parse_school_number(typed: str) -> str:
    if typed and not re.fullmatch(SCHOOL_NUMBER, typed):
        raise ValueError("A school number has up to 20 letters, digits, hyphens, dots or strokes.")
    return typed


def parse_roles(typed: str) -> list[Role]:
    named = [word.strip().casefold() for word in re.split(r"[,;/+]", typed) if word.strip()]
    if unknown := [word for word in named if word not in ROLES_BY_WORD]:
        raise ValueError(f"“{unknown[0][:30]}” is no role: {', '.join(role.label for role in Role)}.")
    if not named:
        raise ValueError(f"Write at least one role: {', '.join(role.label for role in Role)}.")
    return [role for role in Role if role in {ROLES_BY_WORD[word] for word in named}]


COLUMNS = (
    Column(
        "reference",
        "School number",
        "up to 20 letters, digits, hyphens, unique in the school",
        parse_school_number,
        True,
    ),
    Column("given_name", "Given name", "up to 100 characters", text_parser(100), True),
    Column("family_name", "Family name", "up to 100 characters", text_parser(100), True),
    Column(
        "roles",
        "Roles",
        "student, instructor, chief instructor, administrator; separated by commas",
        parse_roles,
        True,
    ),
    Column(
        "username",
        "Login name",
        "letters, digits and @ . + - _; empty: the school number in small letters",
        text_parser(150),
    ),
    Column("email", "E-mail", "may be empty", text_parser(254)),
    Column("born", "Date of birth", "as 2004-03-05; may be empty", parse_day, is_date=True),
    Column(
        "syllabus",
        "Syllabus",
        "code of the syllabus to enrol a student in, newest issue; empty: not enrolled",
        text_parser(40),
    ),
    Column("aircraft_type", "Aircraft type", "code of the type; required with a syllabus", text_parser(20)),
    Column(
        "instructor",
        "Assigned instructor",
        "school number of the instructor; required with a syllabus",
        parse_school_number,
    ),
    Column("enrolled_on", "Enrolled on", "as 2026-03-04; required with a syllabus", parse_day, is_date=True),
)
TITLES = {column.key: column.title for column in COLUMNS}
ENROLMENT_COLUMNS = ("syllabus", "aircraft_type", "instructor", "enrolled_on")


@dataclass(frozen=True)
class _ExistingRows:
    """The rows that exist already, read once."""

    people: dict[str, Person]
    usernames: set[str]
    born: dict[tuple[str, str, date], str]
    syllabuses: dict[str, Syllabus]
    types: dict[str, AircraftType]
    enrolled: set[tuple[int, int]]


def _read_existing() -> _ExistingRows:
    people = {row.reference: row for row in Person.objects.all()}
    # The newest issue of each code: DISTINCT ON keeps the first row in this order.
    published = Syllabus.objects.filter(published_on__isnull=False).order_by("code", "-issue").distinct("code")
    return _ExistingRows(
        people=people,
        usernames={row.username.casefold() for row in people.values()},
        born={
            (row.given_name.casefold(), row.family_name.casefold(), row.born): row.reference
            for row in people.values()
            if row.born
        },
        syllabuses={row.code: row for row in published},
        types={row.code: row for row in AircraftType.objects.all()},
        enrolled=set(Enrolment.objects.filter(ended_on=None).values_list("student", "syllabus")),
    )


def plan_import(table: Table, on: date) -> ImportPlan:
    """Return what would be imported, or what is wrong. Four queries."""
    made = ImportPlan(table.read_as, headings=("School number", "Name", "Roles", "Login name", "Enrolled in"))
    here = _read_existing()
    rows = parse_rows(table, COLUMNS, made)
    # An instructor may come in the same table as the students, in any order.
    coming = {row["reference"]: row for row in rows}
    names: dict[str, int] = {}
    seen: dict[str, int] = {}
    for row in rows:
        if row["reference"] in seen:
            said = f"Row {seen[row['reference']]} has this number too: one row for a person."
            made.refuse(row.row, TITLES["reference"], row["reference"], said)
            continue
        seen[row["reference"]] = row.row
        known = here.people.get(row["reference"])
        if known is None:
            _check_new_person(row, here, names, on, made)
        else:
            _check_known_person(row, known, made)
        _check_enrolment(row, known, coming, here, on, made)
        if known is None or row["syllabus"]:
            made.new.append(row)
            made.shown.append(_preview_cells(row, known))
    return made


def _check_new_person(row: ParsedRow, here: _ExistingRows, names: dict[str, int], on: date, made: ImportPlan) -> None:
    row.values["username"] = row["username"] or row["reference"].casefold()
    username = row["username"].casefold()
    if username in here.usernames:
        made.refuse(row.row, TITLES["username"], row["username"], "This login name is taken: write another.")
    if username in names:
        said = f"Row {names[username]} has this login name too: write another."
        made.refuse(row.row, TITLES["username"], row["username"], said)
    names[username] = row.row
    if row["born"]:
        if row["born"] >= on:
            made.refuse(row.row, TITLES["born"], row["born"], "This day is not past yet.")
        same = here.born.get((row["given_name"].casefold(), row["family_name"].casefold(), row["born"]))
        # A second row for one person would divide the training record in two.
        if same:
            said = f"Somebody of this name and day of birth is here with the number {same}: write that number."
            made.refuse(row.row, TITLES["reference"], row["reference"], said)
    fields = ("username", "given_name", "family_name", "reference", "email", "born")
    try:
        # By the model's own validators, so that the preview refuses what adding the person would refuse.
        Person(**{name: row[name] for name in fields}).clean_fields(exclude=["password", "roles", "last_login"])
    except ValidationError as error:
        for name, messages in error.message_dict.items():
            made.refuse(row.row, TITLES.get(name, name), row[name], " ".join(messages))


def _check_known_person(row: ParsedRow, known: Person, made: ImportPlan) -> None:
    # The number of somebody else would enrol the wrong person; a changed name is entered on the person's page.
    if (known.given_name.casefold(), known.family_name.casefold()) != (
        row["given_name"].casefold(),
        row["family_name"].casefold(),
    ):
        said = f"This number is that of {known.name}, who is here: write another number."
        made.refuse(row.row, TITLES["reference"], row["reference"], said)
    # A table must not change roles or addresses of people who are here: it would go past the pages that ask for more.
    made.known.append((row.row, f"{known.name}, {known.reference}, is here: nothing about them is changed."))


def _check_enrolment(
    row: ParsedRow, known: Person | None, coming: dict[str, ParsedRow], here: _ExistingRows, on: date, made: ImportPlan
) -> None:
    given = [name for name in ENROLMENT_COLUMNS if row[name]]
    if not given:
        return
    for name in ENROLMENT_COLUMNS:
        if not row[name]:
            made.refuse(row.row, TITLES[name], "", "Required to enrol: fill in all four, or none.")
    if not _has_role(Role.STUDENT, row["reference"], coming, here):
        made.refuse(row.row, TITLES["roles"], "", "Only a student is enrolled: the role is missing.")
    if row["syllabus"] and row["syllabus"] not in here.syllabuses:
        made.refuse(row.row, TITLES["syllabus"], row["syllabus"], _unknown_code(here.syllabuses))
    if row["aircraft_type"] and row["aircraft_type"] not in here.types:
        made.refuse(row.row, TITLES["aircraft_type"], row["aircraft_type"], _unknown_code(here.types))
    if row["instructor"] and not _has_role(Role.INSTRUCTOR, row["instructor"], coming, here):
        made.refuse(row.row, TITLES["instructor"], row["instructor"], "No instructor has this school number.")
    if row["enrolled_on"] and row["enrolled_on"] > on:
        made.refuse(row.row, TITLES["enrolled_on"], row["enrolled_on"], "This day is in the future.")
    if known and row["syllabus"] in here.syllabuses:
        syllabus = here.syllabuses[row["syllabus"]]
        if (known.pk, syllabus.pk) in here.enrolled:
            made.known.append((row.row, f"{known.name} is enrolled in {syllabus} already."))
            # Emptied, so that import_rows() does not enrol a second time.
            row.values.update(dict.fromkeys(ENROLMENT_COLUMNS))


def _has_role(role: Role, reference: str, coming: dict[str, ParsedRow], here: _ExistingRows) -> bool:
    # Who is here counts as stored, whatever the table says of their roles: import_rows() does not change them.
    if reference in here.people:
        return role in here.people[reference].roles and here.people[reference].is_active
    return reference in coming and role in coming[reference]["roles"]


def _unknown_code(known: dict[str, Any]) -> str:
    return f"There is no such code. There are: {', '.join(sorted(known)[:12]) or 'none'}."


def _preview_cells(row: ParsedRow, known: Person | None) -> tuple[str, ...]:
    role_names = ", ".join(role.label for role in row["roles"])
    login = "is here" if known else row["username"]
    return (
        row["reference"],
        f"{row['given_name']} {row['family_name']}",
        known.role_names if known else role_names,
        login,
        row["syllabus"] or "",
    )


def import_rows(made: ImportPlan, by: Person, at: datetime) -> int:
    """Add the new people, then enrol them; return how many people were added."""
    # Read again, because the plan holds codes and numbers and here the rows behind them are needed.
    here = _read_existing()
    added = 0
    for row in made.new:
        if row["reference"] not in here.people:
            fields = ("username", "given_name", "family_name", "reference", "roles", "born", "email")
            person = school_actions.add_person(**{name: row[name] for name in fields}, by=by, at=at)
            here.people[person.reference] = person
            added += 1
    # All people were added before this: the instructor of a student may come in a later row.
    for row in made.new:
        if row["syllabus"]:
            lesson_actions.enrol(
                student=here.people[row["reference"]],
                syllabus=here.syllabuses[row["syllabus"]],
                aircraft_type=here.types[row["aircraft_type"]],
                instructor=here.people[row["instructor"]],
                on=row["enrolled_on"],
                by=by,
                at=at,
            )
    return added
