"""PostgreSQL from the wheel: killed hard, it comes back with every acknowledged row."""

import os
import signal
import time
from pathlib import Path

import psycopg
import pytest

from school import embedded


def connect(found: dict[str, str]) -> psycopg.Connection:
    return psycopg.connect(dbname=found["NAME"], user=found["USER"], host=found["HOST"], autocommit=True)


def test_it_comes_back_after_being_killed(tmp_path: Path) -> None:
    folder = tmp_path / "postgres"
    try:
        with connect(embedded.database(folder, "owner")) as db:
            db.execute("CREATE TABLE kept (n int)")
        with connect(embedded.database(folder)) as db:
            for number in range(50):
                db.execute("INSERT INTO kept VALUES (%s)", [number])
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                db.execute("TRUNCATE kept")
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                db.execute("ALTER TABLE kept DISABLE TRIGGER ALL")
        home = embedded._home(folder)
        pid = int((home / "data/postmaster.pid").read_text().split()[0])
        os.kill(pid, signal.SIGKILL)
        time.sleep(0.5)
        with connect(embedded.database(folder)) as db:
            found = db.execute("SELECT count(*) FROM kept").fetchone()
        assert found == (50,)
    finally:
        embedded.remove(folder)
