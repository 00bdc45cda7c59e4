"""Print runs: asked for, claimed, cancelled, tried again, handed over; the background jobs and their page."""

import csv
import hashlib
import io
import json
import re
import subprocess
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import rfc8785
from bs4 import BeautifulSoup
from django.db import DatabaseError, OperationalError, connection, transaction
from django.test import Client
from procrastinate import App, JobContext
from procrastinate.contrib.django import app
from procrastinate.contrib.django.models import ProcrastinateJob
from procrastinate.exceptions import JobAborted
from procrastinate.job_context import AbortReason
from procrastinate.jobs import Job

from grading.actions import print_runs
from grading.evidence import chain
from grading.evidence.audit import check
from grading.models import JobReport, PrintRun, PrintRunItem, Seal, Sheet
from grading.operations import daily, tasks
from grading.pages.print_runs import PrintRunProgress, time_left_words
from grading.sheets import print_run_zip
from grading.sheets.print_run_zip import file_name, folder_name, printed_entries
from lessons import actions as lesson_actions
from lessons.models import Enrolment
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.database_guards import guards_off
from tests.factories import add_students, fly_lesson
from tests.page_swaps import apply_swap, comparable_lines, parse_page

ACTIVE, ENDED, PICKED = PrintRun.Chosen.ACTIVE, PrintRun.Chosen.ENDED, PrintRun.Chosen.PICKED


def create_plain_sheet(*, enrolment: Enrolment, on: Any, paper: str, by: Any, at: datetime) -> Sheet:
    """A sealed sheet whose bytes are not laid out: what a run does around the printing is tested here."""
    number = Sheet.objects.filter(enrolment=enrolment).count() + 1
    pdf = f"%PDF {enrolment.pk} {number}".encode() * 500
    sheet = Sheet.objects.create(
        enrolment=enrolment, number=number, on=on, paper=paper, content={}, pdf=pdf,
        digest=hashlib.sha256(pdf).hexdigest(), printed_at=at, printed_by=by,
    )  # fmt: skip
    chain.seal(kind=Seal.Kind.SHEET, subject=sheet.uid, record={"id": str(sheet.uid)}, at=at)
    return sheet


@pytest.fixture
def instant_printing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(print_runs.PRINTERS, Sheet.Kind.PROGRESS, create_plain_sheet)


def request_run(cast: Cast, chosen: PrintRun.Chosen = ACTIVE, **more: Any) -> PrintRun:
    given = {"kind": "progress", "on": cast.today, "paper": "A4", "by": cast.frida, "at": cast.at()} | more
    return print_runs.request_run(chosen=chosen, **given)


def print_all(cast: Cast, run: PrintRun) -> None:
    minute = 0
    while print_runs.print_next_item(run=run, at=cast.at(13) + timedelta(minutes=minute)):
        minute += 1


def count_jobs(run: PrintRun) -> int:
    return ProcrastinateJob.objects.filter(task_name="print_items", args__run=run.pk).count()


# Asking


def test_all_in_training_by_name_with_jobs_for_several_workers(cast: Cast, settings: Any) -> None:
    run = request_run(cast)
    names = [item.enrolment.student.given_name for item in run.items.order_by("position")]
    assert names == ["Dora", "Emil"]
    assert count_jobs(run) == settings.PRINT_JOBS_AT_ONCE
    entry = JournalEntry.objects.about(run).get()
    assert (entry.person_name, entry.after["students"]) == ("Frida Example", 2)


def test_only_those_whose_training_ended_in_the_period(cast: Cast) -> None:
    lesson_actions.end_enrolment(
        enrolment=cast.other_enrolment, on=cast.today - timedelta(days=3), end="completed", by=cast.frida, at=cast.at()
    )
    period = cast.today - timedelta(days=3), cast.today
    assert [item.enrolment for item in request_run(cast, ENDED, between=period).items.all()] == [cast.other_enrolment]
    assert [item.enrolment for item in request_run(cast).items.all()] == [cast.enrolment]
    with pytest.raises(Refusal, match="nothing to print"):
        request_run(cast, ENDED, between=(cast.today - timedelta(days=9), cast.today - timedelta(days=4)))


def test_what_is_refused_leaves_nothing(cast: Cast) -> None:
    day, back = cast.today, timedelta(days=1)
    for wrong, why in (
        ({"by": cast.bert}, "administrator or the chief"),
        ({"on": day + back}, "cannot be for a future day"),
        ({"kind": "endorsements"}, "one by one"),
        ({"chosen": PICKED}, "nothing to print"),
        ({"chosen": ENDED}, "first and the last day"),
        ({"chosen": ENDED, "between": (day, day - back)}, "before the first"),
    ):
        with pytest.raises(Refusal, match=why):
            request_run(cast, **{"chosen": ACTIVE} | wrong)
    assert PrintRun.objects.count() == 0
    assert ProcrastinateJob.objects.count() == 0


# Printing


def test_each_item_once_and_no_more(cast: Cast, instant_printing: None) -> None:
    run = request_run(cast)
    first, second = (print_runs.print_next_item(run=run, at=cast.at(13)) for _ in range(2))
    assert first
    assert second
    assert (first.position, second.position) == (1, 2)
    assert first.sheet
    assert first.sheet.printed_by == cast.frida
    assert print_runs.print_next_item(run=run, at=cast.at(13)) is None
    assert Sheet.objects.count() == 2


def test_a_real_sheet_is_that_of_printing_alone(cast: Cast) -> None:
    item = print_runs.print_next_item(run=request_run(cast, PICKED, picked=[cast.enrolment]), at=cast.at(13))
    assert item
    assert item.problem == ""
    assert item.sheet
    assert bytes(item.sheet.pdf).startswith(b"%PDF-")
    assert item.sheet.content["student"]["name"] == "Dora Example"
    assert Seal.objects.filter(subject=item.sheet.uid).exists()


def test_what_another_prints_is_passed_over_and_free_again_when_it_is_gone(
    transactional_cast: Cast, instant_printing: None
) -> None:
    run = request_run(transactional_cast)
    other = connection.copy()
    try:
        other.set_autocommit(False)
        with other.cursor() as cursor:
            cursor.execute("SELECT 1 FROM grading_printrunitem WHERE run_id = %s AND position = 1 FOR UPDATE", [run.pk])
        second = print_runs.print_next_item(run=run, at=transactional_cast.at(13))
        assert second
        assert second.position == 2
        assert print_runs.print_next_item(run=run, at=transactional_cast.at(13)) is None
    finally:
        other.rollback()  # closing alone frees the row some time later
        other.close()
    first = print_runs.print_next_item(run=run, at=transactional_cast.at(13))
    assert first
    assert first.position == 1


def test_a_failing_item_is_written_down_and_can_be_tried_again(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    def fails_for_dora(*, enrolment: Enrolment, **more: Any) -> Sheet:
        made = create_plain_sheet(enrolment=enrolment, **more)
        if enrolment == cast.enrolment:
            raise ValueError("no ink")
        return made

    monkeypatch.setitem(print_runs.PRINTERS, "progress", fails_for_dora)
    run = request_run(cast)
    print_all(cast, run)
    dora, emil = run.items.order_by("position")
    assert (dora.problem, dora.sheet) == ("It could not be printed (ValueError: no ink)", None)
    assert emil.sheet
    assert Sheet.objects.count() == 1  # what was made of the other is undone
    with pytest.raises(Refusal, match="administrator or the chief"):
        print_runs.retry_run(run=run, by=cast.bert, at=cast.at(14))
    monkeypatch.setitem(print_runs.PRINTERS, "progress", create_plain_sheet)
    assert print_runs.retry_run(run=run, by=cast.amelia, at=cast.at(14)) == 1
    assert count_jobs(run) == 2 * settings.PRINT_JOBS_AT_ONCE
    print_all(cast, run)
    assert Sheet.objects.count() == 2
    assert JournalEntry.objects.get(what="print run tried again").before == {"1": dora.problem}
    with pytest.raises(Refusal, match="Nothing is left"):
        print_runs.retry_run(run=run, by=cast.amelia, at=cast.at(14))


def test_a_lost_database_is_not_the_fault_of_the_item(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    def lost(**more: Any) -> Sheet:
        raise OperationalError("the connection is lost")

    monkeypatch.setitem(print_runs.PRINTERS, "progress", lost)
    run = request_run(cast)
    with pytest.raises(OperationalError):
        print_runs.print_next_item(run=run, at=cast.at(13))
    assert not run.items.exclude(problem="").exists()


def test_cancelling_leaves_out_what_is_not_printed(cast: Cast, instant_printing: None) -> None:
    run = request_run(cast)
    print_runs.print_next_item(run=run, at=cast.at(13))
    with pytest.raises(Refusal, match="administrator or the chief"):
        print_runs.cancel_run(run=run, by=cast.bert, at=cast.at(14))
    run = print_runs.cancel_run(run=run, by=cast.amelia, at=cast.at(14))
    assert (run.cancelled_at, run.cancelled_by) == (cast.at(14), cast.amelia)
    assert print_runs.print_next_item(run=run, at=cast.at(15)) is None
    assert [item.left_out for item in run.items.order_by("position")] == [False, True]
    with pytest.raises(Refusal, match="has ended"):
        print_runs.cancel_run(run=run, by=cast.amelia, at=cast.at(14))


def test_an_item_with_its_sheet_is_final(cast: Cast, instant_printing: None) -> None:
    run = request_run(cast)
    print_all(cast, run)
    with pytest.raises(DatabaseError, match="printed: no UPDATE"), transaction.atomic():
        PrintRunItem.objects.filter(run=run).update(sheet=None)


# The file


@pytest.fixture
def printed(cast: Cast, instant_printing: None) -> PrintRun:
    run = request_run(cast)
    print_all(cast, run)
    return run


def test_the_file_is_whole_the_same_each_time_and_proves_itself(cast: Cast, printed: PrintRun, tmp_path: Path) -> None:
    whole = b"".join(print_run_zip.stream_zip(printed))
    request_run(cast)  # the chain and the school go on
    create_plain_sheet(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(20))
    assert b"".join(print_run_zip.stream_zip(printed)) == whole
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        assert archive.testzip() is None
        assert {info.flag_bits & 0x08 for info in archive.infolist()} == {0}  # sizes stand before the bytes
        assert {name.split("/")[0] for name in archive.namelist()} == {folder_name(printed)}
        archive.extractall(tmp_path)
    folder = tmp_path / folder_name(printed)
    check = ["sha256sum", "--strict", "-c", "SHA256SUMS"]
    assert subprocess.run(check, cwd=folder, check=True, capture_output=True, text=True).stdout.count(": OK") == 5
    for entry in printed_entries(printed):
        assert (folder / entry.file).read_bytes() == bytes(Sheet.objects.get(pk=entry.sheet.pk).pdf)
    next(folder.glob("sheets/*.pdf")).write_bytes(b"forged")
    assert subprocess.run(check, cwd=folder, check=False, capture_output=True).returncode == 1


def test_index_and_manifest_say_what_is_in_it(cast: Cast, printed: PrintRun) -> None:
    archive = zipfile.ZipFile(io.BytesIO(b"".join(print_run_zip.stream_zip(printed))))
    inside = {name.split("/", 1)[1]: archive.read(name) for name in archive.namelist()}
    rows = list(csv.DictReader(io.StringIO(inside["index.csv"].decode())))
    sheets = list(Sheet.objects.order_by("pk"))
    assert [row["student"] for row in rows] == ["Dora Example", "Emil Example"]
    assert [row["SHA-256"] for row in rows] == [sheet.digest for sheet in sheets]
    page = BeautifulSoup(inside["index.html"], "html.parser")
    assert [link["href"] for link in page.select("a")] == [row["file"] for row in rows]
    assert {row["file"] for row in rows} < set(inside)
    told = json.loads(inside["manifest.json"])
    assert rfc8785.dumps(told) == inside["manifest.json"]
    assert told["fingerprint"] == hashlib.sha256(rfc8785.dumps(told["sheets"])).hexdigest()
    last = Seal.objects.order_by("-number").first()
    assert last
    assert (told["head_of_chain"]["number"], told["head_of_chain"]["digest"]) == (last.number, last.digest)


@pytest.mark.parametrize("reference", ["../../etc/x", "C:\\x", "CON", "a/b", "", "Ω", "=1+1", "x" * 20, ".", "T 4\n"])
def test_no_name_leaves_its_folder_or_troubles_a_file_system(reference: str) -> None:
    item = SimpleNamespace(position=7, enrolment=SimpleNamespace(student=SimpleNamespace(reference=reference)))
    name = file_name(item, SimpleNamespace(kind="progress", number=12))  # type: ignore[arg-type]
    assert re.fullmatch(r"sheets/0007-[A-Za-z0-9-]+-progress-12\.pdf", name)
    assert len(name) < 80


def test_a_formula_in_a_name_is_harmless(cast: Cast, instant_printing: None) -> None:
    cast.dora.given_name = "=HYPERLINK"
    cast.dora.save()
    run = request_run(cast, PICKED, picked=[cast.enrolment])
    print_all(cast, run)
    archive = zipfile.ZipFile(io.BytesIO(b"".join(print_run_zip.stream_zip(run))))
    assert b"\n'=HYPERLINK" in archive.read(f"{folder_name(run)}/index.csv")


def test_one_sheet_at_a_time_is_in_memory(
    cast: Cast, instant_printing: None, django_assert_num_queries: Callable[[int], Any]
) -> None:
    add_students(cast, 6)
    run = request_run(cast)
    print_all(cast, run)
    with django_assert_num_queries(4 + 8):
        pieces = [len(piece) for piece in print_run_zip.stream_zip(run)]
    largest = max(len(bytes(sheet.pdf)) for sheet in Sheet.objects.all())
    assert len(pieces) == 4 + 8 + 1
    assert max(pieces[4:-1]) < largest + 300


# Pages


def test_asking_on_the_page(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    sent = {"kind": "progress", "on": str(cast.today), "paper": "A4", "chosen": "active", "print": "yes"}
    found = client.post("/print-runs/request/", sent | {"find": "yes", "q": "dora", "picked": str(cast.enrolment.uid)})
    boxes = BeautifulSoup(found.content, "html.parser").select("#students input")
    assert [(box["value"], box.has_attr("checked")) for box in boxes] == [(str(cast.enrolment.uid), True)]
    assert PrintRun.objects.count() == 0
    reply = client.post("/print-runs/request/", sent | {"picked": str(cast.enrolment.uid)})
    assert reply.status_code == 422
    assert "choose the students picked, or untick them" in reply.text
    reply = client.post("/print-runs/request/", sent | {"picked": [str(cast.enrolment.uid), "x"], "chosen": "picked"})
    run = PrintRun.objects.get()
    assert reply.headers["Location"] == f"/print-runs/{run.uid}/"
    assert [item.enrolment for item in run.items.all()] == [cast.enrolment]
    for wrong in ({"on": "soon"}, {"chosen": "ended"}, {"kind": "endorsements"}):
        assert client.post("/print-runs/request/", sent | wrong).status_code == 422


def test_the_page_of_a_run_and_its_file(cast: Cast, client: Client, instant_printing: None) -> None:
    run = request_run(cast)
    client.force_login(cast.amelia)
    page, file = f"/print-runs/{run.uid}/", f"/print-runs/{run.uid}.zip"
    assert "0 of 2 printed, waiting for the first" in client.get(page).text
    assert client.get(file).status_code == 404
    print_all(cast, run)
    text = client.get(page).text
    assert "2 of 2 printed." in text
    assert "hx-trigger" not in text
    reply = client.get(file)
    assert reply.headers["Content-Disposition"] == f'attachment; filename="{folder_name(run)}.zip"'
    assert zipfile.ZipFile(io.BytesIO(b"".join(reply))).testzip() is None
    assert "has ended" in client.post(f"{page}cancel/", follow=True).text


def test_what_is_asked_for_again_equals_the_page(cast: Cast, client: Client, instant_printing: None) -> None:
    run = request_run(cast)
    client.force_login(cast.frida)
    page = f"/print-runs/{run.uid}/"
    for step in range(3):
        before = client.get(page).text
        if step:
            print_runs.print_next_item(run=run, at=cast.at(13))
        for part in ("progress", "heard"):
            asked = f"{page}?tenths=5" if part == "heard" and step == 2 else page
            reply = client.get(asked, headers={"HX-Request": "true", "HX-Target": part})
            assert comparable_lines(apply_swap(before, reply, part), part) == comparable_lines(
                parse_page(client.get(page).text), part
            )


def test_only_a_tenth_more_is_read_aloud(cast: Cast, client: Client, instant_printing: None) -> None:
    run = request_run(cast)
    client.force_login(cast.frida)
    heard = {"HX-Request": "true", "HX-Target": "heard"}
    assert client.get(f"/print-runs/{run.uid}/?tenths=0", headers=heard).status_code == 204
    print_runs.print_next_item(run=run, at=cast.at(13))
    assert "Refresh" in client.get(f"/print-runs/{run.uid}/").text
    assert "1 of 2 printed." in client.get(f"/print-runs/{run.uid}/?tenths=0", headers=heard).text


def test_a_run_without_a_job_says_so_and_has_a_key(cast: Cast, client: Client) -> None:
    run = request_run(cast)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM procrastinate_jobs")
    client.force_login(cast.frida)
    text = client.get(f"/print-runs/{run.uid}/").text
    assert "Nothing works on the other 2." in text
    assert "Continue printing" in text
    client.post(f"/print-runs/{run.uid}/retry/")
    assert count_jobs(run) > 0


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (10, "less than a minute left"),
        (45, "about 1 minute left"),
        (89, "about 1 minute left"),
        (130, "about 2 minutes left"),
    ],
)
def test_the_time_left_in_words(seconds: int, words: str) -> None:
    assert time_left_words(timedelta(seconds=seconds)) == words
    progress = PrintRunProgress(500, 137, 0, 0, timedelta(seconds=seconds) / 363, True)
    assert progress.words == f"137 of 500 printed, {words}."


def test_queries_do_not_grow_with_the_rows(
    cast: Cast, client: Client, django_assert_num_queries: Callable[[int], Any]
) -> None:
    client.force_login(cast.frida)
    for rows in (1, 3):
        add_students(cast, rows)
        runs = [request_run(cast) for _ in range(rows)]
        for run in runs:
            PrintRunItem.objects.filter(run=run, position__lte=rows).update(problem="no ink")
            add_failed_job("check_records", "RecordsAltered: Seal 3: it is gone.")
        for page, queries in (
            ("/print-runs/", 4),
            (f"/print-runs/{runs[0].uid}/", 7),
            ("/print-runs/request/", 5),
            ("/records/jobs/", 9),
        ):
            with django_assert_num_queries(queries):
                reply = client.get(page)
            assert reply.status_code == 200
            assert len(re.findall(r"<h1[ >]", reply.text)) == 1


# Jobs


def add_failed_job(task: str, why: str) -> int:
    number = app.configure_task(task).defer(timestamp=0)
    JobReport.objects.create(job=number, task=task, at=datetime(2026, 6, 1, tzinfo=UTC), failed=True, words=why)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_jobs SET status = 'doing' WHERE id = %s", [number])
        cursor.execute("SELECT procrastinate_finish_job_v1(%s, 'failed', false)", [number])
    return number


def job_context(task: str, abort: AbortReason | None = None) -> JobContext:
    job = Job(
        id=99, status="doing", queue="default", priority=0, lock=None, queueing_lock=None, task_name=task, attempts=0
    )
    return JobContext(app=app, job=job, start_timestamp=0, abort_reason=lambda: abort)


@pytest.fixture
def without_role_findings(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests run as the owner of the tables, which the check rightly finds."""
    monkeypatch.setattr(check, "role_findings", list)


def test_daily_tasks_report_their_result(cast: Cast, without_role_findings: None) -> None:
    tasks.derive_verdicts.func(job_context("derive_verdicts"), timestamp=0)
    tasks.check_records.func(job_context("check_records"), timestamp=0)
    tasks.send_reminders.func(job_context("send_reminders"), timestamp=0)
    told = dict(JobReport.objects.filter(failed=False).values_list("task", "words"))
    assert told["derive_verdicts"] == "2 verdicts derived."
    # The first check of a school opens its register, whose seals are of what it finds.
    assert told["check_records"].endswith(" seals hold.")
    assert told["send_reminders"].startswith("0 due on ")


def test_an_altered_record_fails_the_job_and_stands_on_the_page(
    cast: Cast, client: Client, without_role_findings: None
) -> None:
    fly_lesson(cast)
    with guards_off():
        Seal.objects.filter(number=1).update(canonical='{"format":2}')
    with pytest.raises(daily.RecordsAltered):
        tasks.check_records.func(job_context("check_records"), timestamp=0)
    report = JobReport.objects.get()
    assert report.failed
    assert report.words.startswith("RecordsAltered: seal 1: its text was altered after sealing (")
    add_failed_job("check_records", report.words)
    client.force_login(cast.frida)
    text = client.get("/records/jobs/").text
    assert text.count("seal 1: its text was altered after sealing") == 2
    assert "No worker is running." in text


def test_a_stopping_worker_lets_go_between_two_items(cast: Cast, instant_printing: None) -> None:
    run = request_run(cast)
    with pytest.raises(JobAborted):
        tasks.print_items.func(job_context("print_items", AbortReason.SHUTDOWN), run=run.pk)
    assert Sheet.objects.count() == 0
    assert JobReport.objects.count() == 0


def test_a_job_prints_its_share_and_hands_on(
    cast: Cast, instant_printing: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tasks, "ITEMS_PER_JOB", 1)
    run = request_run(cast)
    before = count_jobs(run)
    tasks.print_items.func(job_context("print_items"), run=run.pk)
    assert (Sheet.objects.count(), count_jobs(run) - before) == (1, 1)


@pytest.mark.parametrize(("by_worker", "count"), [(True, 8), (False, 1)])
def test_cron_may_do_the_work_of_every_day_instead(settings: Any, by_worker: bool, count: int) -> None:
    settings.DAILY_BY_WORKER = by_worker
    queue = App(connector=app.connector)
    queue.tasks = app.tasks
    tasks.register(queue)
    assert len(queue.periodic_registry.periodic_tasks) == count
