"""Run a cluster, now or on demand, see whether it runs, stop it and remove it."""

import shutil
from pathlib import Path
from typing import Any

from school.embedded import server
from school.embedded.place import OUTSIDE, locked, socket_folder


def database(folder: Path, role: str = "app", durable: bool = True) -> dict[str, str]:
    """Start PostgreSQL in this folder unless it runs, and return the database as a Django setting.

    It runs until it is stopped.
    """
    with locked(folder) as home:
        server.bring_up(home, durable)
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": server.DATABASE,
        "USER": server.ROLES[role],
        "HOST": str(socket_folder(home)),
    }


def on_demand(folder: Path, role: str = "app") -> dict[str, Any]:
    """Return the database as a Django setting; the server starts with the first connection (usage.py)."""
    return {
        "ENGINE": "school.embedded",
        "NAME": server.DATABASE,
        "USER": server.ROLES[role],
        "CLUSTER": folder,
    }


def status(folder: Path) -> Path | None:
    """Return the folder of the socket on which the cluster of this folder answers, or None."""
    with locked(folder) as home:
        return socket_folder(home) if server.answers(home) else None


def stop(folder: Path) -> None:
    """Stop the cluster in this folder, if it runs."""
    with locked(folder) as home:
        server.stop(home)


def remove(folder: Path) -> None:
    """Stop the cluster in this folder and delete it with all its data."""
    with locked(folder) as home:
        server.stop(home)
        # Before the data: a mark without its cluster would say that the next one has its roles already.
        (home / "provided").unlink(missing_ok=True)
        for gone in (home / "data", home / "data.new", *home.glob("programs-*"), socket_folder(home)):
            if gone.exists():
                shutil.rmtree(gone)
        # Only a home that was made outside for this purpose is deleted whole; any other folder may hold more.
        if home.parent == OUTSIDE and folder.is_symlink():
            shutil.rmtree(home)
            folder.unlink()
