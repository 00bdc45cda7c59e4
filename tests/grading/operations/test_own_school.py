"""The files of a school on one machine are made once and closed to others; what hinders the start is a sentence."""

import os
import shutil
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509

from grading.operations import own_school
from school.errors import Refusal

NOW = datetime(2026, 6, 11, 9, tzinfo=UTC)
Usage = namedtuple("Usage", "total used free")


def test_settings_and_key_are_made_once_and_closed_to_others(tmp_path: Path) -> None:
    own_school.make_files(tmp_path, NOW)
    settings, key = tmp_path / "environment", tmp_path / "signing" / "school.pem"
    first = settings.read_text(), key.read_bytes()
    assert [path.stat().st_mode & 0o777 for path in (settings, key)] == [0o600, 0o600]
    assert f"SIGNING_KEY_FILE={key}\n" in first[0]
    given = dict(line.split("=", 1) for line in first[0].splitlines() if line and not line.startswith("#"))
    assert len(given["SIGNATURE_KEY"]) >= 64
    # It signs for the school, and no page calls it one for demonstration.
    assert "OU=" not in x509.load_pem_x509_certificate(key.read_bytes()).subject.rfc4514_string()
    own_school.make_files(tmp_path, NOW)
    assert (settings.read_text(), key.read_bytes()) == first
    assert sorted(path.name for path in tmp_path.iterdir()) == ["environment", "signing"]


def test_a_disk_that_is_full_meanwhile_leaves_no_half_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(self: Path, text: str) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_text", fail)
        with pytest.raises(OSError, match="No space left"):
            own_school.make_files(tmp_path, NOW)
    assert [path.name for path in tmp_path.iterdir()] == ["signing"]
    own_school.make_files(tmp_path, NOW)
    assert (tmp_path / "environment").exists()


def test_a_full_disk_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: Usage(10**9, 9 * 10**8, 10**8))
    own_school.require_room(tmp_path, 10**8)
    with pytest.raises(Refusal, match=r"has 100 MB free and a school needs 500: make room first\.$"):
        own_school.require_room(tmp_path, 5 * 10**8)


def test_a_folder_that_cannot_be_used_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(Refusal, match=r"file/school cannot be made \(Not a directory\): set DATA_FOLDER"):
        own_school.require_room(tmp_path / "file" / "school", 0)
    monkeypatch.setattr(os, "access", lambda folder, mode: False)  # root may write everywhere
    with pytest.raises(Refusal, match=f"{tmp_path} belongs to another account"):
        own_school.require_room(tmp_path, 0)


def test_one_process_runs_a_school(tmp_path: Path) -> None:
    with (
        own_school.only_one(tmp_path),
        pytest.raises(Refusal, match="is running already: stop that start first"),
        own_school.only_one(tmp_path),
    ):
        pytest.fail("it ran twice")
    with own_school.only_one(tmp_path):
        assert (tmp_path / "start.lock").exists()
