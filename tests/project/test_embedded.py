"""PostgreSQL from the wheel: whatever it was stopped by, it comes back with every acknowledged row."""

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from school import embedded
from school.embedded import place
from school.embedded import server as life

# A query that is still busy when its server has been killed.
BUSY = "import psycopg, sys; psycopg.connect(sys.argv[1]).execute('SELECT count(*) FROM generate_series(1, 200000000)')"


@pytest.fixture
def folder() -> Iterator[Path]:
    """A place that every account may pass; pytest's own folder is closed to others."""
    with tempfile.TemporaryDirectory(dir="/tmp") as made:
        Path(made).chmod(0o711)
        yield Path(made) / "postgres"
        embedded.remove(Path(made) / "postgres")


@pytest.fixture(scope="module")
def original() -> Iterator[Path]:
    """Made and laid once, then stopped: the tests of what comes later begin from a copy."""
    with tempfile.TemporaryDirectory(dir="/tmp") as made:
        Path(made).chmod(0o711)
        folder = Path(made) / "postgres"
        fill_cluster(folder)
        embedded.stop(folder)
        yield folder
        embedded.remove(folder)


@pytest.fixture
def laid(folder: Path, original: Path) -> Path:
    subprocess.run(["/bin/cp", "-a", original, folder], check=True)  # owners and modes too
    embedded.database(folder)
    return folder


def connect_to(folder: Path, role: str = "app") -> psycopg.Connection:
    found = embedded.database(folder, role)
    return psycopg.connect(dbname=found["NAME"], user=found["USER"], host=found["HOST"], autocommit=True)


def server_pid(folder: Path) -> int:
    return int((folder / "data/postmaster.pid").read_text().split()[0])


def fill_cluster(folder: Path) -> None:
    with connect_to(folder, "owner") as db:
        db.execute("CREATE TABLE kept (n int)")
    with connect_to(folder) as db:
        for number in range(50):
            db.execute("INSERT INTO kept VALUES (%s)", [number])


def count_rows(folder: Path) -> int:
    with connect_to(folder) as db:
        found = db.execute("SELECT count(*) FROM kept").fetchone()
    assert found is not None
    return int(found[0])


def test_the_application_may_change_rows_and_nothing_else(laid: Path) -> None:
    with connect_to(laid) as db:
        db.execute("UPDATE kept SET n = n + 1")
        db.execute("DELETE FROM kept WHERE n = 50")
        for refused in ("TRUNCATE kept", "ALTER TABLE kept DISABLE TRIGGER ALL", "CREATE TABLE own (n int)"):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                db.execute(refused)


def test_it_listens_to_nobody_else(folder: Path) -> None:
    with connect_to(folder) as db:
        shown = [db.execute(f"SHOW {name}").fetchone() for name in ("listen_addresses", "data_checksums", "fsync")]
    assert shown == [("",), ("on",), ("on",)]
    socket = embedded.status(folder)
    assert socket is not None
    assert socket.stat().st_mode & 0o777 == 0o700
    embedded.stop(folder)
    assert embedded.status(folder) is None


def test_it_comes_back_after_being_killed_again_and_again(laid: Path) -> None:
    for _ in range(3):
        os.kill(server_pid(laid), signal.SIGKILL)
        assert count_rows(laid) == 50


def test_it_comes_back_while_a_query_of_the_killed_server_is_still_busy(laid: Path) -> None:
    found = embedded.database(laid)
    target = f"dbname={found['NAME']} user={found['USER']} host={found['HOST']}"
    with subprocess.Popen([sys.executable, "-c", BUSY, target], stderr=subprocess.DEVNULL) as busy:
        wait_for_a_query(laid)
        os.kill(server_pid(laid), signal.SIGKILL)
        assert count_rows(laid) == 50
        assert busy.wait(timeout=20) != 0


def wait_for_a_query(folder: Path) -> None:
    seen = "SELECT count(*) FROM pg_stat_activity WHERE state = 'active' AND query LIKE '%generate_series(1, 2%'"
    with connect_to(folder) as db:
        for _ in range(100):
            if db.execute(f"{seen} AND pid <> pg_backend_pid()").fetchone() == (1,):
                return
            time.sleep(0.1)
    pytest.fail("the busy query never started")


def test_it_comes_back_when_a_stranger_got_its_number(laid: Path) -> None:
    """As after a power cut: the process file is left and its number belongs to another program."""
    file = laid / "data/postmaster.pid"
    old = file.read_text()
    embedded.stop(laid)
    account = {} if os.geteuid() else {"user": embedded.UNPRIVILEGED}
    with subprocess.Popen(["/bin/sleep", "60"], cwd="/", **account) as stranger:
        file.write_text(old.replace(old.split()[0], str(stranger.pid), 1))
        assert count_rows(laid) == 50
        assert stranger.poll() is None
        stranger.kill()


def test_it_comes_back_when_its_socket_was_swept_away(laid: Path) -> None:
    socket = embedded.status(laid)
    assert socket is not None
    for swept in socket.iterdir():
        swept.unlink()
    assert count_rows(laid) == 50


@pytest.mark.parametrize("step", [3, 7])  # between the roles; between the database and its grants
def test_an_interrupted_beginning_is_finished_later(folder: Path, step: int, monkeypatch: pytest.MonkeyPatch) -> None:
    query = life.query
    counted = iter(range(1, 100))

    def interrupted(home: Path, database: str, sql: str) -> str:
        if next(counted) == step:
            raise KeyboardInterrupt
        return query(home, database, sql)

    with monkeypatch.context() as patch:
        patch.setattr(life, "query", interrupted)
        with pytest.raises(KeyboardInterrupt):
            embedded.database(folder, durable=False)
    fill_cluster(folder)
    assert count_rows(folder) == 50


def test_many_may_start_it_at_once(folder: Path) -> None:
    code = "import sys, pathlib; from school import embedded; embedded.database(pathlib.Path(sys.argv[1]))"
    started = [subprocess.Popen([sys.executable, "-c", code, str(folder)]) for _ in range(4)]
    assert [process.wait(timeout=60) for process in started] == [0, 0, 0, 0]


def test_nothing_is_left_when_it_is_removed(laid: Path) -> None:
    socket = embedded.status(laid)
    assert socket is not None
    embedded.remove(laid)
    assert not socket.exists()
    assert not (laid / "data").exists()
    with connect_to(laid) as db, pytest.raises(psycopg.errors.UndefinedTable):
        db.execute("SELECT * FROM kept")


def test_whether_it_lies_in_its_folder_is_known_before_it_is_made(tmp_path: Path) -> None:
    """For root below a folder that other accounts cannot enter it would not, and nothing is made by asking."""
    tmp_path.chmod(0o700)
    assert embedded.lies_inside(tmp_path / "school" / "postgres") is (os.geteuid() != 0)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "linked").symlink_to("/var/tmp")
    assert embedded.lies_inside(tmp_path / "linked") is False
    assert embedded.lies_inside(Path("/tmp/no-such-school/postgres")) is True


def test_for_root_below_a_closed_folder_it_lives_outside(tmp_path: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o700)
    folder = closed / "postgres"
    try:
        fill_cluster(folder)
        os.kill(server_pid(folder), signal.SIGKILL)
        assert count_rows(folder) == 50
        home = folder.resolve()
        assert home.parent == (closed if os.geteuid() else embedded.OUTSIDE)
    finally:
        embedded.remove(folder)
    assert not folder.is_symlink()
    assert not (home / "data").exists()


def test_data_that_became_unreachable_is_not_passed_over(laid: Path) -> None:
    embedded.stop(laid)
    laid.parent.chmod(0o700)
    if os.geteuid() == 0:
        with pytest.raises(embedded.Unavailable, match="has data but its account cannot pass"):
            embedded.database(laid)
    laid.parent.chmod(0o711)
    assert count_rows(laid) == 50


def test_programs_that_the_account_cannot_reach_are_copied(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    passing = place.may_pass
    monkeypatch.setattr(place, "may_pass", lambda path, who: path.name != "bin" and passing(path, who))
    fill_cluster(folder)
    assert count_rows(folder) == 50
    assert len(list(folder.glob("programs-*"))) == (0 if os.geteuid() else 1)


def test_a_closed_umask_is_no_hindrance(folder: Path) -> None:
    before = os.umask(0o077)
    try:
        fill_cluster(folder)
        embedded.stop(folder)
        assert count_rows(folder) == 50
    finally:
        os.umask(before)


def test_a_missing_wheel_is_told_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(place, "WHEEL", "no_such_wheel")
    with pytest.raises(embedded.Unavailable, match=r"programs are not installed: run bash \.ci/install\.$"):
        embedded.programs()
