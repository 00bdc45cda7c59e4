"""What a monitor is told of a running server, what the administrator reads, and what the log never says.

Source: the Prometheus text format, read here by the parser of prometheus_client; RFC 6750 for the token.
"""

import io
import json
import logging
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as project
from django.db import OperationalError, connection, transaction
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from grading.models import JobReport, RecordCheck
from grading.operations.backup import create
from grading.operations.running import database_metrics, status
from grading.pages import installation
from grading.views import monitoring
from school import journal, logs
from school.models import School
from tests.cast import Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import fly_lesson

TOKEN = "the-token-of-the-monitor"


def parse_figures(text: str) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    return {
        (sample.name.removeprefix("training_record_"), tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_health_asks_no_database(cast: Cast, client: Client, django_assert_num_queries: Callable[..., Any]) -> None:
    with django_assert_num_queries(0):
        reply = client.get("/health/")
    assert reply.json() == {"answers": True}
    assert "no-store" in reply.headers["Cache-Control"]


def test_ready_says_no_and_not_why(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch, settings: Any, caplog: pytest.LogCaptureFixture
) -> None:
    assert client.get("/ready/").json() == {"ready": True}

    def refused(why: str) -> None:
        caplog.clear()
        reply = client.get("/ready/")
        assert (reply.status_code, reply.json()) == (503, {"ready": False})
        assert "no-store" in reply.headers["Cache-Control"]
        assert why in caplog.text

    with guards_off():
        refused("The guard of the table school_journalentry is switched off")
    with monkeypatch.context() as patch:
        patch.setattr(status, "_migrations_on_disk", lambda: (("school", "0999_new"),))
        refused("The database has not had the migration school 0999_new.")
    with monkeypatch.context() as patch:
        patch.setattr(monitoring, "service_problems", lambda: connection.cursor().execute("SELECT 1 FROM nothing_here"))
        refused("the database does not answer")
    connection.needs_rollback = False


def test_ready_says_no_when_the_disk_is_full(cast: Cast, client: Client, settings: Any) -> None:
    settings.MIN_FREE_DISK = 10**18
    assert client.get("/ready/").status_code == 503


def test_ready_watches_the_disk_of_the_database(
    cast: Cast, client: Client, settings: Any, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    def says_no(why: str) -> None:
        caplog.clear()
        assert client.get("/ready/").status_code == 503
        assert why in caplog.text

    usage = status.shutil.disk_usage
    settings.DATABASE_DISK = str(tmp_path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            status.shutil,
            "disk_usage",
            lambda folder: usage(folder)._replace(free=7_000_000) if str(folder) == str(tmp_path) else usage(folder),
        )
        says_no("7 MB are free for the database.")
        item = next(row for row in installation.installation_status(timezone.now()) if "database" in row.title)
        assert (item.mark, item.title, item.words) == ("open", "Disk of the database", "0.0 GB free.")
    assert client.get("/ready/").status_code == 200
    settings.DATABASE_DISK = str(tmp_path / "nowhere")
    says_no("cannot be looked at: No such file")


def test_ready_watches_the_share_of_a_database_elsewhere(
    cast: Cast, client: Client, settings: Any, state_of: Callable[..., dict[Any, float]]
) -> None:
    settings.DATABASE_DISK, settings.DATABASE_DISK_SHARE = "", 10**12
    assert client.get("/ready/").status_code == 200
    assert 0 < 10**12 - state_of()[("database_free_bytes", ())] == status.database_status().size
    settings.DATABASE_DISK_SHARE = status.database_status().size + settings.MIN_FREE_DISK - 1
    assert client.get("/ready/").status_code == 503


def test_where_nothing_tells_the_page_says_so(
    cast: Cast, client: Client, settings: Any, state_of: Callable[..., dict[Any, float]]
) -> None:
    settings.DATABASE_DISK, settings.DATABASE_DISK_SHARE = "", 0
    assert client.get("/ready/").status_code == 200
    assert ("database_free_bytes", ()) not in state_of()
    item = next(row for row in installation.installation_status(timezone.now()) if row.title == "Disk of the database")
    assert item.mark == "not_known"
    assert "watch it where PostgreSQL runs" in item.words


def test_ready_says_no_while_the_database_takes_no_writes(
    cast: Cast, client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    with transaction.atomic():
        execute_sql("SET TRANSACTION READ ONLY")
        assert status.service_problems() == ["The database takes no writes."]
        transaction.set_rollback(True)


def test_figures_are_for_who_has_the_token(cast: Cast, settings: Any, tmp_path: Path) -> None:
    client = Client()
    assert client.get("/metrics/", headers={"Authorization": "Bearer "}).status_code == 404
    settings.METRICS_TOKEN, settings.METRICS_FOLDER = TOKEN, str(tmp_path)
    for given in ("", "Bearer ", f"Bearer {TOKEN}x", TOKEN, "Bearer ünknown"):
        reply = client.get("/metrics/", headers={"Authorization": given})
        assert reply.status_code == 401
        assert reply.headers["WWW-Authenticate"] == "Bearer"  # RFC 6750, 3
        assert b"seals" not in reply.content


@pytest.fixture
def state_of(cast: Cast) -> Callable[..., dict[Any, float]]:
    """Return the figures that a monitor reads of the database at a moment."""

    def ask(at: datetime | None = None) -> dict[Any, float]:
        registry = database_metrics.DatabaseCollector(at or timezone.now())
        return {
            (sample.name.removeprefix("training_record_"), tuple(sorted(sample.labels.items()))): sample.value
            for family in registry.collect()
            for sample in family.samples
        }

    return ask


@pytest.fixture
def no_jobs(db: None) -> None:
    """Those of a transactional test before this one stay: the tables of the queue are not cleaned."""
    for table in ("events", "periodic_defers", "jobs", "workers"):
        execute_sql(f"DELETE FROM procrastinate_{table}")


def test_the_figures_of_the_database(cast: Cast, no_jobs: None, state_of: Callable[..., dict[Any, float]]) -> None:
    before = state_of()
    assert before[("database_up", ())] == 1
    assert before[("seals", ())] == 0
    assert ("backup_age_seconds", ()) not in before
    assert ("chain_holds", ()) not in before  # nobody has looked
    fly_lesson(cast)
    fly_lesson(cast, days_ago=1, enrolment=cast.other_enrolment)
    now = timezone.now()
    RecordCheck.objects.create(at=now - timedelta(hours=3), seals=2, found=1, findings=["seal 1: altered"])
    journal.record(
        by=None, at=now - timedelta(hours=5), what=create.BACKUP_MADE, subject=School.objects.get(), after={"file": "x"}
    )
    add_job("todo", now - timedelta(minutes=10))
    add_job("todo", now - timedelta(minutes=4))
    add_job("failed", now - timedelta(minutes=50))
    found = state_of(now)
    assert found[("seals", ())] == found[("signed_lessons", ())] == 2
    assert found[("chain_holds", ())] == 0
    assert found[("record_check_findings", ())] == 1
    assert found[("record_check_age_seconds", ())] == 3 * 3600
    assert found[("backup_age_seconds", ())] == 5 * 3600
    assert found[("jobs", (("state", "waiting"),))] == 2
    assert found[("jobs", (("state", "failed"),))] == 1
    assert found[("oldest_waiting_job_seconds", ())] == 600
    assert found[("database_bytes", ())] > 1_000_000
    assert found[("database_connections", ())] >= 1


def add_job(status: str, at: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO procrastinate_jobs (queue_name, task_name, status) VALUES ('default', 'x', %s) RETURNING id",
            [status],
        )
        cursor.execute("UPDATE procrastinate_events SET at = %s WHERE job_id = %s", [at, cursor.fetchone()[0]])


def test_a_database_that_is_away_is_one_figure(
    state_of: Callable[[], dict[Any, float]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def away() -> None:
        raise OperationalError("the server closed the connection")

    monkeypatch.setattr(status, "database_status", away)
    assert state_of() == {("database_up", ()): 0}


COUNTING = """
import os, sys, pathlib
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
import django
from django.conf import settings
settings.METRICS_FOLDER = sys.argv[1]
from prometheus_client.registry import Collector
from school import metrics
class Nothing(Collector):
    def collect(self):
        return []
counts = metrics.get_counts()
for _ in range(int(sys.argv[2])):
    counts.record_response("grading:home", 200, 0.04)
if sys.argv[3] == "fork":
    child = os.fork()
    counts.record_response("grading:home", 500, 2.0)
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
sys.stdout.write(counts.text(Nothing()).decode())
"""


def test_counts_of_all_processes_add_up_and_the_files_do_not_grow(tmp_path: Path) -> None:
    """Processes that end leave their place, and their counts, to those that come."""

    def process(times: int, how: str) -> dict[Any, float]:
        command = [sys.executable, "-c", COUNTING, str(tmp_path), str(times), how]
        done = subprocess.run(command, cwd=project.BASE_DIR, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return parse_figures(done.stdout)

    process(3, "")
    after = process(4, "fork")
    assert after[("requests_total", (("status", "2xx"), ("view", "grading:home")))] == 7
    assert after[("requests_total", (("status", "5xx"), ("view", "grading:home")))] == 2
    assert after[("request_seconds_count", (("view", "grading:home"),))] == 9
    assert after[("request_seconds_bucket", (("le", "0.05"), ("view", "grading:home")))] == 7
    files = sorted(path.name for path in tmp_path.iterdir())
    assert files == [
        "counter_0.db", "counter_1.db", "histogram_0.db", "histogram_1.db", "place-0.lock", "place-1.lock",
    ]  # fmt: skip


# The page of the administrator


def test_the_page_says_what_is_open(cast: Cast, no_jobs: None, client: Client, settings: Any, tmp_path: Path) -> None:
    settings.SIGNING_KEY_FILE = str(tmp_path / "none.pem")
    client.force_login(cast.frida)
    text = client.get("/records/installation/").text
    assert "3 things here need attention." in text
    assert "The sealed records have not been checked yet." in text
    assert "No backup has been made of this database yet: manage.py back_up." in text
    assert "None is running: 0 jobs wait for one." in text
    assert "As this version needs them." in text
    now = timezone.now()
    RecordCheck.objects.create(at=now - timedelta(hours=3), seals=0, found=0)
    after = {"file": "a.backup", "bytes": 1_234_567, "seals": 7, "head": "", "encrypted": True}
    journal.record(
        by=None, at=now - timedelta(hours=40), what=create.BACKUP_MADE, subject=School.objects.get(), after=after
    )
    execute_sql("INSERT INTO procrastinate_workers (last_heartbeat) VALUES (now())")
    text = client.get("/records/installation/").text
    assert "1 thing here needs attention." in text
    assert "a.backup, 1.2 MB, 7 seals, encrypted, made" in text
    assert "The daily backup was missed." in text
    journal.record(by=None, at=now, what=create.BACKUP_MADE, subject=School.objects.get(), after=after)
    assert "This installation is in order." in client.get("/records/installation/").text


@pytest.mark.parametrize(
    ("change", "how", "words"),
    [
        ({"found": 2}, "open", "2 things did not hold in 5 seals, checked"),
        ({"at": timedelta(hours=37)}, "open", "5 seals held, checked"),
        ({}, "met", "5 seals held, checked"),
    ],
)
def test_a_check_of_the_records_in_words(cast: Cast, change: dict[str, Any], how: str, words: str) -> None:
    now = timezone.now()
    RecordCheck.objects.create(at=now - change.get("at", timedelta(0)), seals=5, found=change.get("found", 0))
    found = installation.installation_status(now)[0]
    assert (found.mark, found.words) == (how, words)


def test_the_page_asks_no_more_the_more_there_is(
    cast: Cast, client: Client, django_assert_num_queries: Callable[..., Any]
) -> None:
    client.force_login(cast.frida)
    client.get("/records/installation/")
    for _ in range(2):
        with django_assert_num_queries(12):
            client.get("/records/installation/")
        for number in range(5):
            JobReport.objects.create(job=number, task="x", at=timezone.now(), failed=True, words="x")
            add_job("failed", timezone.now())


# The log

PERSONAL = ("Ines Secretsson", "ines@example.org", "1999-12-31", "the-secret-of-ines", "QQ-PERSONAL")


def failing_view(request: HttpRequest) -> HttpResponse:
    """Whatever a person sends ends up in what goes wrong."""
    name, address, born, secret, registration = (request.POST[key] for key in "nabsr")
    log = logging.getLogger("grading.test")
    log.warning("A letter to %s was refused by /mail/send?to=%s", address, name.split()[0])
    log.warning("two\nlines: %s", '{"level": "forged"}\n{"at": "now"}')
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT %s::date", [born + name])
    except Exception as first:
        raise ValueError(f"{name} {address} {secret}") from first
    return HttpResponse(registration)


urlpatterns = [path("fails/", failing_view, name="fails"), path("login/", failing_view, name="login")]
handler500 = "school.views.frame.server_error"


@pytest.fixture
def log_lines() -> Iterator[Callable[[], list[str]]]:
    """The log as a server writes it, line by line."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(logs.JsonLinesFormatter())
    logging.getLogger().addHandler(handler)
    yield lambda: stream.getvalue().splitlines()
    logging.getLogger().removeHandler(handler)


def test_what_a_person_typed_is_never_in_the_log(cast: Cast, settings: Any, log_lines: Any) -> None:
    settings.ROOT_URLCONF = __name__
    settings.MIDDLEWARE = [one for one in settings.MIDDLEWARE if "LoginRequired" not in one]
    client = Client(raise_request_exception=False)
    client.force_login(cast.dora)
    send = dict(zip("nabsr", PERSONAL, strict=True))
    reply = client.post("/fails/?who=Ines+Secretsson", send, headers={"X-Request-ID": "a1b2c3d4e5"})
    assert reply.status_code == 500
    assert reply.headers["X-Request-ID"] == "a1b2c3d4e5"
    assert "<code>a1b2c3d4e5</code>" in reply.text
    written = log_lines()
    for told in (*PERSONAL, "Ines", "Secretsson", "example.org", cast.dora.name, cast.dora.username, "fails/"):
        assert not [line for line in written if told in line], told
    found = [json.loads(line) for line in written]
    assert [line["message"] for line in found] == [
        "A letter to [address] was refused by /mail/send",
        'two\nlines: {"level": "forged"}\n{"at": "now"}',
        "Internal Server Error",
    ]
    for line in found:
        assert line["request"] == "a1b2c3d4e5"
        assert line["view"] == "fails"
        assert line["at"].endswith("Z")
    first, _, last = found[2]["fault"]
    assert (first["class"], first["sqlstate"]) == ("psycopg.errors.InvalidDatetimeFormat", "22007")
    assert last["class"] == "builtins.ValueError"
    assert last["through"][-1].endswith(" failing_view")


def test_arguments_that_do_not_fit_are_not_printed() -> None:
    """Left to itself, logging prints a line it cannot form with all that was to go into it."""
    record = logging.LogRecord("grading", logging.WARNING, "", 0, "Told %s", PERSONAL, None)
    assert json.loads(logs.JsonLinesFormatter().format(record))["message"] == "Told %s (its arguments do not fit)"


def test_who_is_logged_in_is_a_number(cast: Cast, client: Client, log_lines: Any) -> None:
    client.force_login(cast.bert)
    assert client.get("/lessons/00000000-0000-4000-8000-000000000000/?q=Ines").status_code == 404
    (line,) = [json.loads(one) for one in log_lines()]
    assert line["person"] == cast.bert.pk
    assert (line["view"], line["status"], line["message"]) == ("grading:lesson", 404, "Not Found")


@pytest.mark.parametrize("given", ["short", "a b c d e f g h", 'x"}\n{"level": 1}', "ü" * 20, "x" * 65])
def test_a_number_that_could_forge_a_line_is_not_taken(client: Client, db: None, given: str) -> None:
    reply = client.get("/health/", headers={"X-Request-ID": given})
    assert len(reply.headers["X-Request-ID"]) == 32
    assert reply.headers["X-Request-ID"] != given


def test_the_log_of_a_terminal_is_plain_and_that_of_a_server_is_not() -> None:
    assert project.LOGGING["handlers"]["console"]["formatter"] == "plain"
    code = "from django.conf import settings; print(settings.LOGGING['handlers']['console']['formatter'])"
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "school.settings",
        "DATABASE_URL": "postgres://nobody@127.0.0.1/none",
        "SECRET_KEY": "x" * 60,
        "ALLOWED_HOSTS": "records.example",
    }
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=project.BASE_DIR, env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout == "json\n"
