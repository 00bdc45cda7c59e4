"""The newest seal is kept outside the database: an older copy, or a chain written again, contradicts it."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from grading.evidence import chain, outside_head
from grading.evidence.audit.check import audit_records
from grading.models import Seal
from grading.reading.facts import standard_in_force
from school.models import School
from tests.cast import Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import fly_lesson


@pytest.fixture(autouse=True)
def head_file(settings: Any, tmp_path: Path) -> Path:
    settings.SEAL_HEAD_FILE = str(tmp_path / "seals" / "head.json")
    return Path(settings.SEAL_HEAD_FILE)


def fly_and_commit(cast: Cast, django_capture_on_commit_callbacks: Any) -> Seal:
    with django_capture_on_commit_callbacks(execute=True):
        fly_lesson(cast)
    head = chain.head()
    assert head is not None
    return head


def sentences() -> list[str]:
    return [str(row) for row in audit_records().findings]


def test_each_seal_is_written_once_it_is_committed(
    cast: Cast, head_file: Path, django_capture_on_commit_callbacks: Any
) -> None:
    fly_lesson(cast)
    assert not head_file.exists()  # nothing is committed yet
    assert "No head of the chain is kept outside the database: SEAL_HEAD_FILE is not there." in audit_records().notes
    head = fly_and_commit(cast, django_capture_on_commit_callbacks)
    known = outside_head.read()
    assert known is not None
    assert (known.number, known.digest) == (head.number, head.digest)
    assert head_file.stat().st_mode & 0o077 == 0
    assert sentences() == []


def test_its_number_only_grows(cast: Cast, head_file: Path, django_capture_on_commit_callbacks: Any) -> None:
    first = fly_and_commit(cast, django_capture_on_commit_callbacks)
    second = fly_and_commit(cast, django_capture_on_commit_callbacks)
    outside_head.record(first)
    assert json.loads(head_file.read_text())["number"] == second.number


def test_an_older_copy_of_the_database_is_told(cast: Cast, django_capture_on_commit_callbacks: Any) -> None:
    """All that a restored older backup is: whole in itself, and shorter."""
    fly_and_commit(cast, django_capture_on_commit_callbacks)
    with connection.cursor() as cursor:
        cursor.execute("SAVEPOINT older")
    late = fly_and_commit(cast, django_capture_on_commit_callbacks)
    with connection.cursor() as cursor:
        cursor.execute("ROLLBACK TO SAVEPOINT older")
    known = outside_head.read()
    assert known is not None
    said = f"it is gone, though the head of {known.at} that is kept outside the database says it was there"
    assert sentences() == [f"seal {late.number}: {said}"]
    aside = outside_head.set_aside(cast.at())
    assert aside is not None
    assert aside.exists()
    assert sentences() == []


def test_a_chain_written_again_is_told(cast: Cast, django_capture_on_commit_callbacks: Any) -> None:
    head = fly_and_commit(cast, django_capture_on_commit_callbacks)
    with guards_off():
        digest = chain.link_digest("", head.canonical.replace("perform", "explain"))
        Seal.objects.update(canonical=head.canonical.replace("perform", "explain"), digest=digest)
    assert any("kept outside the database says another fingerprint" in line for line in sentences())


def test_a_disk_that_is_full_does_not_undo_a_signature(
    cast: Cast, settings: Any, tmp_path: Path, django_capture_on_commit_callbacks: Any
) -> None:
    (tmp_path / "a file").write_text("")
    settings.SEAL_HEAD_FILE = str(tmp_path / "a file" / "head.json")
    assert fly_and_commit(cast, django_capture_on_commit_callbacks).number == 1


def test_an_audit_sees_a_standard_that_changed_since_this_process_read_it(cast: Cast) -> None:
    before = standard_in_force(School.objects.get(), cast.today)
    with guards_off():
        execute_sql("UPDATE grading_standard SET content = jsonb_set(content, '{key}', '\"another\"')")
    audit_records()
    assert standard_in_force(School.objects.get(), cast.today) != before
