"""Tables come in whole or not at all, whatever is in the file."""

import csv
import io
import json
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any

import openpyxl
import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import from_excel

from grading.evidence.chain import first_broken_link, iterate_chain
from grading.exchange import import_table, receiving
from grading.exchange.imports import table_reader
from grading.exchange.imports.import_columns import ImportPlan, parse_rows
from grading.exchange.imports.table_reader import BadTable, example_file, read_table
from grading.exchange.imports.xlsx_reader import read_workbook
from grading.models import PendingUpload, ReceivedBatch, ReceivedRecord, Seal
from grading.reading.student_summary import summarise_students
from grading.rules.readiness.json_format import verdict_to_json
from lessons.models import EarlierTraining, Enrolment
from school.errors import Refusal
from school.file_reader import ReadersBusy
from school.models import Aircraft, JournalEntry, Person
from tests import hostile_files
from tests.cast import Cast

KINDS = ("roster", "aircraft", "past_lessons")
ROSTER = (
    "School number,Given name,Family name,Roles,Login name,Date of birth,"
    "Syllabus,Aircraft type,Assigned instructor,Enrolled on\n"
)
PAST = "School number;Date;Taught;Dual;Landings;Instructor;Where the paper is kept\n"


def create_upload(cast: Cast, kind: str, content: bytes | str) -> PendingUpload:
    content = content.encode() if isinstance(content, str) else content
    return receiving.save_upload(kind=kind, name="a-file.csv", content=content, by=cast.frida, at=cast.at(8))


def import_rows(cast: Cast, kind: str, content: bytes | str) -> int:
    upload = create_upload(cast, kind, content)
    return import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))


def plan_import(cast: Cast, kind: str, content: bytes | str) -> ImportPlan:
    return import_table.plan_import(kind, content.encode() if isinstance(content, str) else content, cast.today)


def plan_problems(plan: ImportPlan) -> list[tuple[int, str, str]]:
    return [(problem.row, problem.column, problem.sentence) for problem in plan.problems]


def workbook(rows: list[list[Any]]) -> bytes:
    made = openpyxl.Workbook()
    for row in rows:
        made.worksheets[0].append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def row_counts() -> tuple[int, ...]:
    models = (Person, Enrolment, Aircraft, EarlierTraining, ReceivedBatch, ReceivedRecord, Seal)
    return tuple(model.objects.count() for model in models)


def roster_csv(cast: Cast) -> str:
    enrolled = f"first-solo,{cast.type.code},N-9,{cast.today}"
    code = cast.enrolment.syllabus.code
    return (ROSTER + "N-9,Nora,Ny,instructor,nora,,,,,\n" + f"N-1,Zoë,Ny,student,,2004-03-05,{enrolled}\n").replace(
        "first-solo", code
    )


def test_people_come_with_their_roles_and_enrolments_and_without_a_password(cast: Cast) -> None:
    assert import_rows(cast, "roster", roster_csv(cast)) == 2
    zoe = Person.objects.get(reference="N-1")
    assert (zoe.name, zoe.username, zoe.born, zoe.roles) == ("Zoë Ny", "n-1", date(2004, 3, 5), ["student"])
    assert not zoe.has_usable_password()
    enrolment = Enrolment.objects.get(student=zoe)
    assert enrolment.instructor.name == "Nora Ny"
    assert enrolment.enrolled_on == cast.today
    assert JournalEntry.objects.filter(what="person added", about_id=zoe.pk, person_id=cast.frida.pk).exists()
    assert JournalEntry.objects.filter(what="enrolled", about_id=zoe.pk).exists()
    again = plan_import(cast, "roster", roster_csv(cast))
    assert (again.new, again.problems) == ([], [])
    assert len(again.known) == 3


def test_aircraft_come_by_the_code_of_their_type(cast: Cast) -> None:
    table = f"type\tRegistration\tIn service\n{cast.type.code}\tqq-new\tno\n{cast.type.code}\tQQ-XXA\t\n"
    assert import_rows(cast, "aircraft", table) == 1
    made = Aircraft.objects.get(registration="QQ-NEW")
    assert (made.type, made.in_service) == (cast.type, False)
    assert JournalEntry.objects.filter(what="aircraft added").count() == 1


def test_past_lessons_are_earlier_training_sealed_as_one_batch_for_each_student(cast: Cast) -> None:
    before = verdict_to_json(summarise_students([cast.enrolment], cast.today)[0].verdict)
    text = PAST + "T-4;2020-03-04;Climbing;1,2;3;Old Hand;Box 3\nT-4;2020-03-02;Taxiing;0:30;;Old Hand;Box 3\n"
    assert import_rows(cast, "past_lessons", text + "T-5;2020-03-04;Climbing;1.0;2;Old Hand;Box 4\n") == 3
    rows = EarlierTraining.objects.filter(student=cast.dora).order_by("on")
    assert [(row.unit, row.dual_minutes, row.landings, row.paper) for row in rows] == [
        ("Taxiing", 30, 0, "Box 3"),
        ("Climbing", 72, 3, "Box 3"),
    ]
    assert {row.recorded_by for row in rows} == {cast.frida}
    assert Seal.objects.filter(kind="received").count() == 2
    seal = Seal.objects.get(subject=rows[0].batch)
    assert all(row.fingerprint in seal.canonical for row in rows)
    assert "Emil" not in seal.canonical
    assert first_broken_link(iterate_chain()) is None
    assert verdict_to_json(summarise_students([cast.enrolment], cast.today)[0].verdict) == before
    assert plan_import(cast, "past_lessons", text).new == []


def table_with_bad_last_row(cast: Cast, kind: str) -> str:
    if kind == "roster":
        return (
            roster_csv(cast)
            + "".join(f"M-{n},Given,Family,student,,,,,,\n" for n in range(20))
            + "M-99,Given,,student,,,,,,\n"
        )
    if kind == "aircraft":
        return "Registration,Type\n" + "".join(f"QQ-{n:03d},{cast.type.code}\n" for n in range(20)) + "QQ-999,none\n"
    lessons = "".join(f"T-4;2020-03-{n:02d};Climbing;1.0;1;Old Hand;Box 3\n" for n in range(1, 21))
    return PAST + lessons + "T-4;2020-02-30;Climbing;1.0;1;Old Hand;Box 3\n"


@pytest.mark.parametrize("kind", KINDS)
def test_an_error_in_the_last_row_keeps_everything_out(cast: Cast, client: Client, kind: str) -> None:
    upload = create_upload(cast, kind, table_with_bad_last_row(cast, kind))
    before = row_counts()
    with pytest.raises(Refusal, match="Nothing was imported: correct 1 cell"):
        import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    client.force_login(cast.frida)
    page = f"/records/import/{upload.uid}/table/"
    assert client.post(page).status_code == 422
    assert row_counts() == before
    assert "1 thing to correct before this can be imported" in client.get(page).text
    assert PendingUpload.objects.filter(pk=upload.pk).exists()


def test_a_fault_while_writing_the_last_row_takes_everything_back(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even what no check foresaw: the school number is taken between the check and the writing."""
    upload = create_upload(cast, "aircraft", f"Registration,Type\nQQ-001,{cast.type.code}\nQQ-002,{cast.type.code}\n")
    before = row_counts()
    real = import_table.aircraft.import_rows

    def raced(plan: ImportPlan, by: Person, at: datetime) -> int:
        taken = real(plan, by, at)
        raise Refusal(f"Somebody was quicker, after {taken} rows.")

    monkeypatch.setattr(import_table.aircraft, "import_rows", raced)
    with pytest.raises(Refusal, match="after 2 rows"):
        import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    assert row_counts() == before


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        ("T-4,Nora,Ny,student,,,,,,", "School number", "is that of Dora Example"),
        ("N 1,Nora,Ny,student,,,,,,", "School number", "letters, digits"),
        (",Nora,Ny,student,,,,,,", "School number", "Required"),
        ("N-1,Nora,Ny,pilot,,,,,,", "Roles", "is no role"),
        ("N-1,Nora,Ny,student,BERT,,,,,", "Login name", "taken"),
        ("N-1,Nora,Ny,student,a b,,,,,", "Login name", "valid username"),
        ("N-1,Nora,Ny,student,,05/03/2004,,,,", "Date of birth", "written 2026-03-04"),
        ("N-1,Nora,Ny,student,,2004-02-30,,,,", "Date of birth", "no such day"),
        ("N-1,Nora,Ny,student,,0004-02-03,,,,", "Date of birth", "outside 1900 to 2100"),
        ("N-1,Nora,Ny,student,,2099-01-01,,,,", "Date of birth", "not past yet"),
        ("N-1,Dora,Example,student,,2000-05-05,,,,", "School number", "is here with the number T-4"),
        ("N-1,Nora,Ny,student,,,first-solo,,,", "Aircraft type", "Required to enrol"),
        ("N-1,Nora,Ny,student,,,nothing,none,T-4,2099-01-01", "Syllabus", "no such code"),
        ("N-1,Nora,Ny,student,,,nothing,none,T-4,2099-01-01", "Aircraft type", "no such code"),
        ("N-1,Nora,Ny,student,,,nothing,none,T-4,2099-01-01", "Assigned instructor", "No instructor"),
        ("N-1,Nora,Ny,student,,,nothing,none,T-4,2099-01-01", "Enrolled on", "in the future"),
        (f"N-1,{'N' * 101},Ny,student,,,,,,", "Given name", "101 characters: 100 at most"),
    ],
)
def test_what_is_wrong_is_said_by_row_and_column(cast: Cast, row: str, column: str, sentence: str) -> None:
    problems = plan_problems(plan_import(cast, "roster", f"{ROSTER}{row}\n"))
    assert any((at, where) == (2, column) and sentence in words for at, where, words in problems), problems


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        ("T-3;2020-03-04;Climbing;1.0;1;Old;Box", "School number", "No student"),
        ("T-4;2099-03-04;Climbing;1.0;1;Old;Box", "Date", "in the future"),
        ("T-4;1999-03-04;Climbing;1.0;1;Old;Box", "Date", "born after"),
        ("T-4;2020-03-04;Climbing;;;Old;Box", "Dual", "takes time"),
        ("T-4;2020-03-04;Climbing;25:00;1;Old;Box", "Dual", "more than a day"),
        ("T-4;2020-03-04;Climbing;soon;1;Old;Box", "Dual", "is not a time in hours"),
        ("T-4;2020-03-04;Climbing;1.0;999;Old;Box", "Landings", "More than 200"),
        ("T-4;2020-03-04;Climbing;1.0;-1;Old;Box", "Landings", "whole number"),
        ("T-4;2020-03-04;Climbing;1.0;1;Old;", "Where the paper is kept", "Required"),
    ],
)
def test_a_past_lesson_that_cannot_be_is_refused(cast: Cast, row: str, column: str, sentence: str) -> None:
    problems = plan_problems(plan_import(cast, "past_lessons", f"{PAST}{row}\n"))
    assert [(at, where) for at, where, words in problems if sentence in words] == [(2, column)], problems


def test_the_same_row_twice_is_a_question(cast: Cast) -> None:
    row = "T-4;2020-03-04;Climbing;1.0;1;Old;Box\n"
    assert plan_problems(plan_import(cast, "past_lessons", PAST + row + row)) == [
        (3, "", "The same as row 2: if it was flown twice, say so in the remarks.")
    ]
    twice = plan_import(cast, "aircraft", f"Registration,Type\nQQ-1,{cast.type.code}\nqq-1,{cast.type.code}\n")
    assert plan_problems(twice) == [(3, "Registration", "Row 2 has it too: one row for an aircraft.")]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_example_reads_as_headings_and_no_row(cast: Cast, client: Client, kind: str, form: str) -> None:
    client.force_login(cast.frida)
    content = client.get(f"/records/import/example/{kind}.{form}").content
    table = read_table(content)
    columns = import_table.import_columns(kind)
    assert list(table.headings) == [column.title for column in columns]
    assert table.rows == ()
    plan = plan_import(cast, kind, content)
    assert [problem.sentence for problem in plan.problems] == [
        "There are headings and no row under them: fill in at least one."
    ]
    # Each column is explained in the file itself.
    if form == "csv":
        text = content.decode("utf-8-sig")
        assert all(column.explained in "".join(next(zip(*csv.reader(io.StringIO(text)), strict=True)))
                   for column in columns)  # fmt: skip


def test_the_codes_that_a_table_takes_are_shown_and_offered(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = " ".join(client.get("/records/import/").text.split())
    said = [
        f"“{cast.type.code}” is {cast.type.name}",
        f"“{cast.enrolment.syllabus.code}” is {cast.enrolment.syllabus}",
        f"“{cast.bert.reference}” is {cast.bert.name}",
    ]
    assert [words for words in said if words not in page] == []
    text = client.get("/records/import/example/roster.csv").content.decode("utf-8-sig")
    assert [words for words in said if words not in text.replace('""', '"')] == []
    # A past lesson names its instructor as the paper does.
    assert cast.bert.reference not in client.get("/records/import/example/past_lessons.csv").content.decode()

    book = openpyxl.load_workbook(io.BytesIO(client.get("/records/import/example/aircraft.xlsx").content))
    offered = {str(rule.sqref)[0]: rule.formula1 for rule in book.active.data_validations.dataValidation}
    assert offered == {"B": f'"{cast.type.code}"', "C": '"yes,no"'}


def test_a_list_that_no_spreadsheet_reads_is_left_out() -> None:
    choices = {"A": [f"code-{number:03}" for number in range(40)], "B": ["one, two"], "C": [], "D": ["yes", "no"]}
    book = openpyxl.load_workbook(io.BytesIO(example_file(list("ABCD"), ["explained"], choices, "xlsx")))
    assert [str(rule.sqref)[0] for rule in book.active.data_validations.dataValidation] == ["D"]


@pytest.mark.parametrize(
    ("encoding", "delimiter", "told"),
    [
        ("utf-8", ",", "CSV, UTF-8, comma"),
        ("utf-8-sig", ";", "CSV, UTF-8, semicolon"),
        ("cp1252", "\t", "CSV, Windows-1252: look at names with accents, tab"),
    ],
)
def test_the_encodings_and_delimiters_of_spreadsheets(cast: Cast, encoding: str, delimiter: str, told: str) -> None:
    text = roster_csv(cast).replace(",", delimiter)
    table = read_table(text.encode(encoding))
    assert table.read_as == f"{told} between the columns"
    assert "Zoë" in table.rows[1].cells


def test_cells_of_a_spreadsheet_are_read_as_what_they_show(cast: Cast) -> None:
    day = date(2020, 3, 4)
    serial = 43894
    # The library's own reading of the same day number (ECMA-376, 1900 date system).
    assert from_excel(serial).date() == day
    head = ["School number", "Date", "Taught", "Dual", "Landings", "Instructor", "Where the paper is kept"]
    rows = [
        ["T-4", datetime(2020, 3, 4), "Climbing", 1.2, 3.0, "Old Hand", 7],
        ["T-4", serial, "Turning", time(1, 12), 3, "Old Hand", 7],
        ["T-4", "2020-03-04", "Gliding", timedelta(minutes=72), None, "Old Hand", 7],
    ]
    plan = plan_import(cast, "past_lessons", workbook([head, *rows]))
    assert plan.problems == []
    assert [(row["on"], row["dual_minutes"], row["landings"]) for row in plan.new] == [
        (day, 72, 3),
        (day, 72, 3),
        (day, 72, 0),
    ]


def repack_workbook(content: bytes, change: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change.get(name, old.read(name)))
        for name in change.keys() - set(old.namelist()):
            new.writestr(name, change[name])
    return out.getvalue()


PLAIN = workbook([["Registration", "Type"], ["QQ-1", "x"]])
SHEET = "xl/worksheets/sheet1.xml"
LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY lol "lol"><!ENTITY l2 "&lol;&lol;">]><worksheet>&l2;</worksheet>'
)
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="1"><c r="A1" t="inlineStr"><is><t>Type</t></is></c></row>'
    b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>'
)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "empty"),
        (b" \n \n", "empty"),
        (b"\n,\n", "no heading row"),
        ("Type".encode("utf-16"), "UTF-16"),
        (b"Type\nok\n\x81", "Line 3 is neither UTF-8 nor Windows-1252"),
        (b"Type\nO\x00K\n", "a character that cannot be read|cannot be read"),
        (b"Type\n" + b"x\n" * 2001, "more than 2000 rows"),
        (b"Type\n" + b"x\n" * 500_000, "more than 2000 rows"),
        (b",".join(b"h%d" % n for n in range(31)) + b"\n", "more than 30 columns"),
        (b"Type\n" + b"x" * 2001, "more than 2000 characters"),
        (b"Type\nx,y\n", "Row 2 has more cells"),
        (b"x" * (table_reader.MAX_BYTES + 1), "larger than 2 MB"),
        (b'Type\n"open', "cannot be read"),
        (b"PK\x03\x04 and no more", "cannot be unpacked"),
        (repack_workbook(PLAIN, {SHEET: LAUGHS}), "no spreadsheet writes"),
        (repack_workbook(PLAIN, {SHEET: LAUGHS.decode().encode("utf-16")}), "no spreadsheet writes"),
        (repack_workbook(PLAIN, {"xl/bomb.xml": b" " * (21 * 2**20)}), "unpacks to more than 20 MB"),
        (repack_workbook(PLAIN, {f"xl/part{n}": b"" for n in range(300)}), "too many parts"),
        (repack_workbook(PLAIN, {SHEET: b"<worksheet"}), "cannot be read"),
        (repack_workbook(PLAIN, {"xl/workbook.xml": b"<workbook/>"}), "cannot be read"),
        (repack_workbook(PLAIN, {"[Content_Types].xml": b"<x/>"}), "cannot be read"),
        (workbook([["Type"], *[["x"]] * 2001]), "more than 2000 rows"),
        (workbook([["h"] * 40]), "more than 30 columns"),
    ],
)
def test_a_file_that_cannot_be_read_whole_is_refused(content: bytes, sentence: str) -> None:
    with pytest.raises(BadTable, match=sentence):
        read_table(content)


def test_a_cell_at_the_far_corner_costs_nothing() -> None:
    table = read_table(repack_workbook(PLAIN, {SHEET: FAR}))
    assert table.headings == ("Type",)
    assert table.rows == ()


def test_a_small_workbook_with_the_work_of_minutes_is_a_sentence(cast: Cast, client: Client) -> None:
    content = hostile_files.slow_workbook()
    assert len(content) < 100_000
    client.force_login(cast.frida)
    reply = upload_by_page(client, "aircraft", content)
    assert reply.status_code == 422
    assert "Save the table alone in a new file, or as CSV." in reply.text
    assert PendingUpload.objects.count() == 0


def test_while_other_files_are_read_nothing_is_taken_in_and_the_page_says_so(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    upload = create_upload(cast, "aircraft", PLAIN)

    def read_file(*given: Any, **options: Any) -> None:
        raise ReadersBusy

    monkeypatch.setattr(table_reader, "read_file", read_file)
    client.force_login(cast.frida)
    before = row_counts()
    page = reverse("grading:table_import", args=[upload.uid])
    for reply in (upload_by_page(client, "aircraft", PLAIN), client.get(page), client.post(page)):
        assert (reply.status_code, reply.headers["Retry-After"]) == (503, "60")
        assert "send it again in a minute" in reply.text
    assert row_counts() == before
    assert PendingUpload.objects.count() == 1


def test_a_file_is_uploaded_once_looked_at_and_taken_in_once(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    reply = upload_by_page(client, "roster", roster_csv(cast).encode())
    page = reply["Location"]
    before = row_counts()
    shown = client.get(page)
    assert "2 new: people and enrolments" in shown.text
    assert "No passwords are created" in shown.text
    assert row_counts() == before
    assert "roster.csv" in client.get("/records/import/").text
    assert client.post(page).status_code == 302
    assert row_counts()[0] == before[0] + 2
    assert client.post(page).status_code == 404
    assert not PendingUpload.objects.exists()


def test_what_was_missing_may_come_between(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    upload = create_upload(cast, "past_lessons", PAST + "N-1;2026-01-04;Climbing;1.0;1;Old;Box\n")
    page = f"/records/import/{upload.uid}/table/"
    assert "No student has this number" in client.get(page).text
    import_rows(cast, "roster", roster_csv(cast))
    assert "1 new: past lessons from paper" in client.get(page).text
    assert client.post(page).status_code == 302


def test_two_who_take_the_same_upload_in_do_it_once(cast: Cast) -> None:
    upload = create_upload(cast, "aircraft", f"Registration,Type\nQQ-001,{cast.type.code}\n")
    import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    upload.pk = upload.pk or 1
    with pytest.raises(Refusal, match="has since been imported or discarded"):
        import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))


def test_what_cannot_be_used_is_not_kept_and_says_why(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    for kind, content in (("roster", b"\xff\xfe"), ("aircraft", b"PK\x03\x04"), ("hand_over", b"no zip")):
        reply = upload_by_page(client, kind, content)
        assert reply.status_code == 422
        assert "This file cannot be used. Nothing was stored." in reply.text
    assert client.post("/records/import/", {"kind": "roster"}).status_code == 422
    assert not PendingUpload.objects.exists()


@pytest.mark.parametrize("rows", [1, 30])
@pytest.mark.parametrize(("kind", "queries"), [("roster", 8), ("aircraft", 6), ("past_lessons", 6)])
def test_looking_at_a_table_takes_the_same_queries_for_any_number_of_rows(
    cast: Cast, client: Client, kind: str, queries: int, rows: int, django_assert_num_queries: Any
) -> None:
    wrong_at_the_end = table_with_bad_last_row(cast, kind).splitlines()[:-1]
    head, body = wrong_at_the_end[0], wrong_at_the_end[1:][:rows]
    upload = create_upload(cast, kind, "\n".join([head, *body]))
    client.force_login(cast.frida)
    page = f"/records/import/{upload.uid}/table/"
    client.get(page)
    with django_assert_num_queries(queries):
        assert client.get(page).status_code == 200


def upload_by_page(client: Client, kind: str, content: bytes, form: str = "csv") -> HttpResponse:
    file = io.BytesIO(content)
    file.name = f"{kind}.{form}"
    reply: HttpResponse = client.post("/records/import/", {"kind": kind, "file": file})
    return reply


CELLS = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        ["T-4", "T-6", "student", "1.2", "2020-03-04", "2026-02-30", "QQ-1", "=1+1", "-", "0", "٣", "\x00"]
    ),
    st.integers(-5, 10**6).map(str),
    st.dates().map(str),
)


@st.composite
def damaged_files(draw: st.DrawFn, kind: str) -> bytes:
    """From mere bytes to a table whose headings are right and whose cells are anything."""
    if draw(st.integers(0, 4)) == 0:
        return draw(st.binary(min_size=1, max_size=400)) + draw(st.sampled_from([b"", b"PK\x03\x04", PLAIN[:-30]]))
    titles = [column.title for column in import_table.import_columns(kind)]
    head = draw(st.one_of(st.just(titles), st.permutations(titles), st.lists(CELLS, min_size=1, max_size=5)))
    rows = draw(st.lists(st.lists(CELLS, min_size=len(head), max_size=len(head)), max_size=4))
    if draw(st.booleans()):
        clean = [[cell.translate({sign: None for sign in range(32)}) for cell in row] for row in [head, *rows]]
        return (
            workbook(clean) if all(all(ord(sign) < 0xD800 for sign in cell) for row in clean for cell in row) else b"x"
        )
    out = io.StringIO()
    csv.writer(out, delimiter=draw(st.sampled_from(",;\t"))).writerows([head, *rows])
    return out.getvalue().encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])), "ignore")


def json_copy(value: Any) -> Any:
    return json.loads(json.dumps(value))


@pytest.mark.filterwarnings("ignore::UserWarning")  # what openpyxl says of damaged workbooks
@pytest.mark.parametrize("kind", KINDS)
def test_no_file_fails_the_page_or_is_written_in_part(
    cast: Cast, client: Client, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The same function without its process, which would be started hundreds of times here.
    monkeypatch.setattr(table_reader, "read_file", lambda _, content, **more: json_copy(read_workbook(content)))
    client.force_login(cast.frida)
    reached = set()

    @settings(max_examples=60, database=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(content=damaged_files(kind))
    def holds(content: bytes) -> None:
        before = row_counts()
        reply = upload_by_page(client, kind, content)  # the client raises what would be a page of status 500
        assert reply.status_code in (302, 422)
        assert row_counts() == before
        reached.add("not kept" if reply.status_code == 422 else "kept")
        if reply.status_code == 302:
            page = reply["Location"]
            assert client.get(page).status_code == 200
            upload = PendingUpload.objects.latest("pk")
            plan = plan_import(cast, kind, bytes(upload.content))
            taken = client.post(page).status_code
            reached.add(taken)
            assert (taken == 302) == (not plan.problems)
            assert taken in (302, 422)
            if taken == 422:
                assert row_counts() == before

    holds()
    assert {"kept", "not kept", 422} <= reached


def test_a_row_with_a_wrong_cell_is_not_read_further(cast: Cast) -> None:
    plan = ImportPlan("")
    table = read_table(b"Registration,Type\n!,x\nQQ-1,y\n")
    assert [row["registration"] for row in parse_rows(table, import_table.import_columns("aircraft"), plan)] == ["QQ-1"]
    assert len(plan.problems) == 1
