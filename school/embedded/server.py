"""Make the cluster of a server, start it, stop it and talk to it with PostgreSQL's programs.

Every function expects that its process has locked the cluster (place.locked).
"""

import os
import shutil
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from school.embedded.place import Unavailable, account_for, give_to_account, socket_folder, usable_programs

DATABASE = "training_record"
ROLES = {"owner": "record_owner", "app": "record_app"}

DURABLE = ["-c", "fsync=on"]
# For data that may be lost with the machine: no write waits for the disk.
FORGETFUL = [
    "-c",
    "fsync=off",
    "-c",
    "synchronous_commit=off",
    "-c",
    "full_page_writes=off",
    "-c",
    "wal_level=minimal",
    "-c",
    "max_wal_senders=0",
    "-c",
    "autovacuum=off",
]
PATIENCE = 60.0  # seconds: a large cluster may take its time to recover
GRACE = 2.0  # seconds in which the children of a killed server end by themselves


def bring_up(home: Path, durable: bool, on_demand: bool = False) -> None:
    """Make the cluster, start its server and create roles and database, as far as that was not done before.

    A server started on demand stops with the last process that uses it; any other runs until somebody stops it.
    """
    if not (home / "data" / "PG_VERSION").exists():
        _create(home)
    if not answers(home):
        _start(home, durable, on_demand)
    # Asked to run on: without the mark it no longer stops with its last user.
    if not on_demand:
        _mark(home).unlink(missing_ok=True)
    if not (home / "provided").exists():
        _provide(home)


def _create(home: Path) -> None:
    """Make the cluster beside its place and move it there, so that an interruption leaves no half cluster."""
    half = home / "data.new"
    if half.exists():
        shutil.rmtree(half)
    # A mark of an earlier cluster would say that this one has its roles already.
    (home / "provided").unlink(missing_ok=True)
    half.mkdir(mode=0o700)
    give_to_account(half, home)
    # No passwords, because only the account can enter the folder of the socket. C.UTF-8 sorts by code point on every
    # machine.
    how = ["--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--data-checksums"]
    _run(home, "initdb", "-D", str(half), "-U", "postgres", *how)
    half.rename(home / "data")


def _mark(home: Path) -> Path:
    """Return the file that is there while a server runs that was started on demand."""
    return home / "on_demand"


def _start(home: Path, durable: bool, on_demand: bool) -> None:
    """Start a server that does not answer, whatever an earlier one left behind."""
    if _comes_up(home):
        return
    _clear_after_kill(home)
    if on_demand:
        _mark(home).touch()
    socket = socket_folder(home)
    socket.mkdir(mode=0o700, exist_ok=True)
    # Every account may write in /tmp: a stranger who made this folder first could answer in the server's place.
    if socket.is_symlink() or socket.lstat().st_uid not in (os.geteuid(), account_for(home).pw_uid):
        raise Unavailable(f"{socket} belongs to somebody else: remove it and start again.")
    log = home / "server.log"
    # Made here, because under root the account may pass the home but not write in it.
    log.touch()
    for path in (socket, log):
        give_to_account(path, home)
    # No port is opened: the socket in its closed folder is the only way in.
    settings = ["-c", "listen_addresses=", "-c", f"unix_socket_directories={socket}", "-c", "timezone=UTC"]
    options = " ".join(settings + (DURABLE if durable else FORGETFUL))
    wait = ["-w", "-t", str(int(PATIENCE))]
    _run(home, "pg_ctl", "start", "-D", str(home / "data"), "-l", str(log), *wait, "-o", options)


def stop(home: Path) -> None:
    """Stop the server, if it runs; its clients are disconnected."""
    if _server(home) is not None:
        _run(home, "pg_ctl", "stop", "-D", str(home / "data"), "-m", "fast", "-w")


def stop_on_demand(home: Path) -> None:
    """Stop the server if it was started on demand."""
    if _mark(home).exists():
        stop(home)
        _mark(home).unlink()


def _comes_up(home: Path) -> bool:
    """Wait for a living server that is recovering; stop one whose socket was swept away."""
    until = time.monotonic() + PATIENCE
    while _server(home) is not None:
        if not any(socket_folder(home).glob(".s.PGSQL.*")):
            stop(home)
            return False
        if answers(home):
            return True
        if time.monotonic() > until:
            raise Unavailable(f"PostgreSQL runs but does not answer: see {home / 'server.log'}.")
        time.sleep(0.1)
    return False


def _clear_after_kill(home: Path) -> None:
    """Remove the process file of a server that was killed: its number may by now be a zombie's or a stranger's.

    PostgreSQL would take either for itself and refuse to start. The file goes once no process works in
    the data any more, which is what it guards; a child still busy with a query is asked to end.
    """
    left = home / "data" / "postmaster.pid"
    if not left.exists() or not Path("/proc/self").exists():
        return
    start = time.monotonic()
    while working := [int(process.name) for process in _processes() if _works_in(process, home)]:
        waited = time.monotonic() - start
        if waited > PATIENCE:
            raise Unavailable(f"PostgreSQL was killed but its processes do not end: {working}.")
        if waited > GRACE:
            for number in working:
                with suppress(ProcessLookupError):  # it ended meanwhile
                    os.kill(number, signal.SIGTERM)
        time.sleep(0.1)
    left.unlink()
    if socket_folder(home).exists():
        shutil.rmtree(socket_folder(home))


def _server(home: Path) -> int | None:
    """Return the number of the living server process of this cluster."""
    file = home / "data" / "postmaster.pid"
    if not file.exists():
        return None
    number = int(file.read_text().split()[0])
    if Path("/proc/self").exists():
        return number if _works_in(Path(f"/proc/{number}"), home) else None
    return number if answers(home) else None


def _processes() -> list[Path]:
    return [entry for entry in Path("/proc").iterdir() if entry.name.isdigit()]


def _works_in(process: Path, home: Path) -> bool:
    """Say whether this is a process of the cluster: they work in its data folder; a zombie works nowhere."""
    try:
        here = (process / "cwd").readlink() == home / "data"
        return here and (process / "comm").read_text().strip() == "postgres"
    except OSError:  # it ended meanwhile, is a zombie, or belongs to somebody else
        return False


def answers(home: Path) -> bool:
    """Say whether the server answers; one with every connection taken does too."""
    return _call(home, "pg_isready", "-q", "-h", str(socket_folder(home))).returncode == 0


def _provide(home: Path) -> None:
    """Create roles and database, once. The application's role may change rows but never empty a table."""
    # Each step can be repeated: after an interruption before the mark below all of them run again.
    _once(home, "pg_roles WHERE rolname = 'record_owner'", "CREATE ROLE record_owner LOGIN CREATEDB")
    _once(home, "pg_roles WHERE rolname = 'record_app'", "CREATE ROLE record_app LOGIN")
    _once(home, f"pg_database WHERE datname = '{DATABASE}'", f"CREATE DATABASE {DATABASE} OWNER record_owner")
    grants = "ALTER DEFAULT PRIVILEGES FOR ROLE record_owner IN SCHEMA public GRANT"
    query(home, DATABASE, f"{grants} SELECT, INSERT, UPDATE, DELETE ON TABLES TO record_app")
    query(home, DATABASE, f"{grants} USAGE, SELECT ON SEQUENCES TO record_app")
    query(home, DATABASE, "GRANT USAGE ON SCHEMA public TO record_app")
    (home / "provided").touch()


def _once(home: Path, there: str, make: str) -> None:
    if not query(home, "postgres", f"SELECT 1 FROM {there}"):  # noqa: S608 - words of this module
        query(home, "postgres", make)


def query(home: Path, database: str, sql: str) -> str:
    """Run one statement as the superuser and return what it prints."""
    # -X: a .psqlrc of the account must not change what is printed.
    return _run(home, "psql", "-h", str(socket_folder(home)), "-U", "postgres", "-XAtqc", sql, database)


def _run(home: Path, program: str, *arguments: str) -> str:
    done = _call(home, program, *arguments)
    if done.returncode != 0:
        log = home / "server.log"
        output = done.stderr or (home / "start.log").read_text() + (log.read_text()[-2000:] if log.exists() else "")
        raise Unavailable(f"PostgreSQL's {program} failed:\n{output.strip()}")
    return (done.stdout or "").strip()


def _call(home: Path, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    quiet = program == "pg_ctl"  # the server inherits its pipes and would keep them open
    with (home / "start.log").open("w") if quiet else open(os.devnull, "w") as out:
        done: subprocess.CompletedProcess[str] = subprocess.run(
            [str(usable_programs(home) / "bin" / program), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=out if quiet else subprocess.PIPE,
            stderr=out if quiet else subprocess.PIPE,
            text=True,
            check=False,
            # The account may be unable to enter the folder in which the command was typed.
            cwd="/",
            start_new_session=True,  # Ctrl-C at the terminal is for the command, which ends in its own order
            # Nothing of the caller's environment: a PGHOST or PGOPTIONS there would lead the programs elsewhere.
            env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"},
            **_account_arguments(home),
        )
    return done


def _account_arguments(home: Path) -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    account = account_for(home)
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
