"""The worker's backup of the day: due once in 20 hours, however often it is looked, and the oldest are removed."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from grading.operations import daily, tasks
from grading.operations.backup.create import newest_backup_at
from school.errors import Refusal
from tests.cast import Cast

MORNING = datetime(2026, 6, 11, 8, 35, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A backup itself is tried elsewhere (test_restore.py): here it is a file with the name of one."""

    def create(*, target: Path, passphrase: str | None, with_key: bool, at: datetime) -> Any:
        assert (passphrase, with_key) == (None, False)
        path = target / f"training-record-{at:%Y%m%dT%H%M%SZ}.backup"
        path.write_bytes(b"x")
        return SimpleNamespace(path=path, bytes=1_500_000)

    monkeypatch.setattr(daily, "create_backup", create)
    settings.BACKUP_FOLDER, settings.BACKUPS_KEPT = str(tmp_path / "backups"), 2
    return tmp_path / "backups"


def test_one_backup_a_day_and_the_oldest_go(cast: Cast, folder: Path) -> None:
    assert daily.back_up(MORNING) == "training-record-20260611T083500Z.backup: 1.5 MB."
    assert folder.stat().st_mode & 0o777 == 0o700
    assert newest_backup_at(folder) == MORNING
    for hours in range(1, 20):
        assert daily.back_up(MORNING + timedelta(hours=hours)) == "There is one of this day."
    for day in (1, 2):
        daily.back_up(MORNING + timedelta(days=day))
    assert [path.name[16:24] for path in sorted(folder.iterdir())] == ["20260612", "20260613"]


def test_without_a_school_there_is_nothing_to_lose(db: None, folder: Path) -> None:
    assert daily.back_up(MORNING) == "There is no school yet."
    assert not folder.exists()


def test_one_that_failed_costs_no_older_one(cast: Cast, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    daily.back_up(MORNING)

    def fail(**given: Any) -> None:
        raise Refusal("The disk is full.")

    monkeypatch.setattr(daily, "create_backup", fail)
    with pytest.raises(Refusal, match="disk is full"):
        daily.back_up(MORNING + timedelta(days=1))
    assert newest_backup_at(folder) == MORNING


class Queue:
    """What a queue is asked to do at fixed times."""

    def __init__(self) -> None:
        self.tasks = tasks.app.tasks
        self.due: dict[str, str] = {}

    def periodic(self, *, cron: str) -> Callable[[Any], None]:
        return lambda task: self.due.update({task.name: cron})


@pytest.mark.parametrize(("folder_named", "due"), [("/backups", "35 * * * *"), ("", None)])
def test_the_worker_looks_each_hour_where_a_folder_is_named(folder_named: str, due: str | None, settings: Any) -> None:
    settings.BACKUP_FOLDER = folder_named
    queue = Queue()
    tasks.register(queue)  # type: ignore[arg-type] # it asks for no more than this
    assert queue.due.get("back_up") == due
    assert queue.due["check_records"] == "10 1 * * *"
