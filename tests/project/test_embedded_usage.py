"""The embedded PostgreSQL starts when a command needs it, and stops with the last process that uses it.

Every test works with real processes, in a copy of the program with a .var of its own.
"""

import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from django.conf import settings

from school import embedded

PATIENCE = 60.0  # seconds
PROGRAM = ("school", "lessons", "grading", "templates", "fixtures", "manage.py", "pyproject.toml")
# Nothing of the tests' own settings: commands run as a person types them.
ENVIRONMENT = {"PATH": os.environ["PATH"], "LANG": "C.UTF-8"}

# What a command does with the database, without the seconds that Django takes to begin: it connects, says so, stays
# until its input is closed, and asks once more.
USER = """
import sys
from pathlib import Path
import psycopg
from school import embedded
folder = Path(sys.argv[1])
def connect():
    return psycopg.connect(host=str(embedded.use(folder)), user="record_app", dbname="training_record")
database = connect()
print("connected", flush=True)
sys.stdin.read()
database.execute("SELECT 1")
"""
# The server runs, and yet it cannot be used.
FAILING = """
import sys
from pathlib import Path
from school import embedded
from school.embedded import server
bring_up = server.bring_up
def fail(*arguments, **options):
    bring_up(*arguments, **options)
    raise embedded.Unavailable("PostgreSQL runs but does not answer")
server.bring_up = fail
embedded.use(Path(sys.argv[1]))
"""
# One child goes the way of its parent's exit without having connected; another one connects and outlives the parent.
PARENT = """
import os, sys, time
from pathlib import Path
import psycopg
from school import embedded
folder = Path(sys.argv[1])
def connect():
    return psycopg.connect(host=str(embedded.use(folder)), user="record_app", dbname="training_record")
database = connect()
if os.fork() == 0:
    sys.exit()
os.wait()
database.execute("SELECT 1")
parent = os.getpid()
reading, writing = os.pipe()
if os.fork() == 0:
    database = connect()
    os.write(writing, b"connected")
    while os.getppid() == parent:
        time.sleep(0.01)
    time.sleep(0.5)  # a server that the parent stopped would be gone by now
    database.execute("SELECT 1")
    print("the server outlived the parent", flush=True)
    sys.exit()
os.read(reading, 9)
"""

# As the demo runs its web server and its worker; both write to the output of this program.
SUPERVISOR = """
import sys
from pathlib import Path
from school import embedded
from school.process_supervisor import SupervisedProgram, supervise
embedded.use(Path(sys.argv[1]))
user = [sys.executable, "-c", sys.argv[2].replace("sys.stdin.read()", "import time; time.sleep(60)"), sys.argv[1]]
supervise([SupervisedProgram("first", user, essential=True), SupervisedProgram("second", user)], print)
"""
ONE_ROW = """
from django.core.management import call_command
from grading.simulation.demo.demo_people import STAFF
from school.models import Aerodrome, Person, School
call_command("migrate", verbosity=0)
for row in STAFF:  # by whom the demo knows its own school
    Person.objects.create(username=row.username, reference=row.reference)
School.objects.create(name="Of one row", aerodrome=Aerodrome.objects.create(ident="ZZZZ", name="Z", elevation_ft=0))
"""


class Project:
    """A copy of the program, and what runs of it."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.cluster = root / ".var/postgres"
        for name in PROGRAM:
            source = settings.BASE_DIR / name
            if source.is_dir():
                shutil.copytree(source, root / name)
            else:
                shutil.copy2(source, root / name)

    def start(self, *arguments: str, **environment: str) -> subprocess.Popen[str]:
        """Start a Python program in a process group of its own, as a terminal does."""
        return subprocess.Popen(
            [sys.executable, *arguments], cwd=self.root, env=ENVIRONMENT | environment, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
        )  # fmt: skip

    def run(self, *arguments: str, status: int = 0, **environment: str) -> str:
        process = self.start(*arguments, **environment)
        out, err = process.communicate(timeout=PATIENCE)
        assert process.returncode == status, err
        return out

    def use(self) -> subprocess.Popen[str]:
        """Start a process that uses the database until its input is closed."""
        process = self.start("-c", USER, str(self.cluster))
        wait_for_line(process, "connected")
        return process

    def servers(self) -> list[int]:
        """The processes of PostgreSQL that work in the data of this copy."""
        data, found = str(self.cluster.resolve() / "data"), []
        for entry in Path("/proc").iterdir():
            with suppress(OSError):  # no process, one that ended meanwhile, or another account's
                if entry.name.isdigit() and os.readlink(entry / "cwd") == data:
                    found.append(int(entry.name))
        return found


@pytest.fixture(scope="module")
def copy() -> Iterator[Project]:
    with tempfile.TemporaryDirectory(dir="/tmp") as made:
        Path(made).chmod(0o711)  # for the account of PostgreSQL, where the tests are run by root
        project = Project(Path(made))
        yield project
        embedded.remove(project.cluster)


@pytest.fixture(scope="module")
def project(copy: Project) -> Project:
    """The cluster is made here; that takes longest."""
    embedded.database(copy.cluster)
    embedded.stop(copy.cluster)
    return copy


def wait_for_line(process: subprocess.Popen[str], start: str) -> str:
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith(start):
            return line
    process.wait()
    assert process.stderr is not None
    pytest.fail(process.stderr.read())


def close(process: subprocess.Popen[str]) -> None:
    _, err = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0, err


def until(reached: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE
    while not reached():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.02)


def test_a_command_that_needs_no_database_starts_none(copy: Project, tmp_path: Path) -> None:
    facts = tmp_path / "facts.json"
    facts.write_text('{"student": {"name": "A"}, "aircraft_type": {"code": "x", "name": "x", "tailwheel": true}}')
    assert '"requirements"' in copy.run("manage.py", "assess", str(facts), "--on", "2026-06-11")
    assert '"properties"' in copy.run("manage.py", "assess", "--schema")
    assert "simulated students" in copy.run("manage.py", "try_forecast", "--students", "2")
    assert "no issues" in copy.run("manage.py", "check")
    assert copy.cluster.parent.exists()  # its secret is there, and nothing of a cluster
    assert not copy.cluster.exists()


@pytest.mark.parametrize(("end", "status"), [("sys.exit()", 0), ("raise ValueError", 1)])
def test_a_command_stops_the_server_that_it_started(project: Project, end: str, status: int) -> None:
    look = "import os, sys; from django.db import connection; connection.ensure_connection();"
    look += "print(os.listdir(connection.settings_dict['HOST']));"
    assert ".s.PGSQL.5432" in project.run("manage.py", "shell", "-v0", "-c", look + end, status=status)
    assert project.servers() == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_process_ended_by_a_signal_stops_it_too(project: Project, number: signal.Signals) -> None:
    with project.use() as process:
        assert project.servers() != []
        os.killpg(process.pid, number)
        process.communicate(timeout=PATIENCE)
    assert process.returncode == (-number if number is signal.SIGINT else 128 + number)
    assert project.servers() == []


def test_it_runs_while_another_process_uses_it(project: Project) -> None:
    first = project.use()
    server = (project.cluster / "data/postmaster.pid").read_text()
    second = project.use()
    close(first)
    close(project.use())
    assert (project.cluster / "data/postmaster.pid").read_text() == server
    close(second)  # it asks once more at its end, and is answered
    assert project.servers() == []


def test_a_killed_process_does_not_count(project: Project) -> None:
    first = project.use()
    with project.use() as second:
        second.kill()
    close(first)
    assert project.servers() == []
    with project.use() as alone:
        alone.kill()
    assert project.servers() != []  # nobody was there to stop it
    close(project.use())
    assert project.servers() == []


def test_a_server_started_to_stay_stays(project: Project) -> None:
    with project.use() as process:
        process.kill()
    embedded.database(project.cluster)  # now it belongs to this caller, who stops it
    close(project.use())
    assert project.servers() != []
    embedded.stop(project.cluster)
    close(project.use())
    assert project.servers() == []


def test_many_begin_and_end_at_once(project: Project) -> None:
    """Each has a server to the end, whichever other process is just starting or stopping it."""
    chance = random.Random(1)
    failed: list[str] = []

    def use_often(pauses: list[float]) -> None:
        for seconds in pauses:
            time.sleep(seconds)
            process = project.start("-c", USER, str(project.cluster))
            _, err = process.communicate(timeout=PATIENCE)
            if process.returncode:
                failed.append(err)

    pauses = [[chance.uniform(0, 0.3) for _ in range(6)] for _ in range(4)]
    threads = [threading.Thread(target=use_often, args=(each,)) for each in pauses]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert project.servers() == []


def test_a_forked_child_leaves_the_use_of_its_parent_alone_and_has_its_own(project: Project) -> None:
    """The output is complete when the child that outlives its parent has ended too."""
    assert project.run("-c", PARENT, str(project.cluster)) == "the server outlived the parent\n"
    until(lambda: project.servers() == [])


def test_the_shell_of_the_database_starts_it(project: Project) -> None:
    path = f"{embedded.programs() / 'bin'}:{ENVIRONMENT['PATH']}"
    done = subprocess.run(
        [sys.executable, "manage.py", "dbshell", "--", "-Atc", "SELECT current_user"],
        cwd=project.root, env=ENVIRONMENT | {"PATH": path}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout == "record_app\n", done.stderr
    assert project.servers() == []


def test_a_server_that_cannot_be_used_is_stopped(project: Project) -> None:
    with project.start("-c", FAILING, str(project.cluster)) as process:
        _, err = process.communicate(timeout=PATIENCE)
    assert err.endswith("Unavailable: PostgreSQL runs but does not answer\n")
    assert project.servers() == []


def test_a_killed_supervisor_leaves_no_server(project: Project) -> None:
    """The system ends what it ran, as the web server and the worker of a killed demo, and the last stops the server."""
    with project.start("-c", SUPERVISOR, str(project.cluster), USER) as process:
        for _ in range(2):
            wait_for_line(process, "connected")
        process.kill()
    until(lambda: project.servers() == [])


# The demo


@pytest.fixture(scope="module")
def school(project: Project) -> Project:
    """A school of one row, which the demo leaves as it is: filling one is not what is tried here."""
    project.run("manage.py", "shell", "-v0", "-c", ONE_ROW, DATABASE_ROLE="owner")
    return project


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


def open_demo(project: Project) -> subprocess.Popen[str]:
    port = free_port()
    process = project.start("manage.py", "demo", "--port", str(port), DATA_FOLDER=".var")
    wait_for_line(process, f"Open http://127.0.0.1:{port}/")

    def ready() -> bool:
        with suppress(OSError):
            return bool(urllib.request.urlopen(f"http://127.0.0.1:{port}/ready/").status == 200)
        assert process.poll() is None
        return False

    until(ready)
    return process


def test_ctrl_c_ends_the_demo_and_its_server(school: Project) -> None:
    with open_demo(school) as process:
        os.killpg(process.pid, signal.SIGINT)
        process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    assert school.servers() == []
    look = "from school.models import School; print(School.objects.get())"
    assert school.run("manage.py", "shell", "-v0", "-c", look) != ""
    assert school.servers() == []


@pytest.mark.parametrize("moment", ["data.new", "data/postmaster.pid", "provided"])
def test_ctrl_c_while_the_demo_begins_leaves_no_server(project: Project, moment: str) -> None:
    """While initdb works, while the server starts for the first time, and while its tables are made."""
    embedded.remove(project.cluster)
    with project.start("manage.py", "demo", "--port", str(free_port()), DATA_FOLDER=".var") as process:
        until((project.cluster / moment).exists)
        os.killpg(process.pid, signal.SIGINT)
        _, err = process.communicate(timeout=PATIENCE)
    assert process.returncode == -signal.SIGINT, err  # and not with an error of PostgreSQL's programs
    assert project.servers() == []


def test_an_interruption_while_the_server_starts_leaves_none(project: Project) -> None:
    """Sent to the process alone, not to its group as a terminal does."""
    started = project.cluster / "data/postmaster.pid"
    assert not started.exists()
    with project.start("-c", USER, str(project.cluster)) as process:
        until(started.exists)
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=PATIENCE)
    assert process.returncode == -signal.SIGINT
    assert project.servers() == []
