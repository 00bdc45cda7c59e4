"""The demo copied from its file is the demo that the actions build on that day, and its seals hold."""

import json
import lzma
import re
from datetime import date
from itertools import zip_longest
from pathlib import Path
from typing import Any

import pytest
from django.db import transaction

from grading.evidence.audit.check import audit_records
from grading.management.commands.load_demo import DEMO_HASHERS
from grading.models import Seal
from grading.simulation.demo.demo_school import DemoSchool, utc_datetime
from grading.simulation.demo.stored_school import STORED_SCHOOL, StoredSchoolUnfit, load_school, read_rows
from school.models import JournalEntry, Person

TODAY = date(2027, 2, 27)  # a month shorter than the others lies before it
# Ids, digests, proofs, hashes of passwords: random, or computed over what is random.
RANDOM = re.compile(
    r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|\b[0-9a-f]{8}:[0-9a-f]{64}|\b[0-9a-f]{32,64}\b"
    r'|argon2\$\S+|"login":"[0-9a-f]{16}"'
)
# For the actions a birthday is a day of the year and a medical ends with a month; for the copy they are days as others.
CALENDAR = re.compile(
    r'\b(19|20)\d\d-\d\d-\d\d\b(?=\t|"|\\N)|Born \d+ \w+ \d{4}|16 since \d+ \w+ \d{4}|until \d+ \w+ \d{4}'
)
OF_THE_CALENDAR = ("school_person", "school_journalentry", "grading_release", "grading_seal")


def comparable(rows: dict[str, Any]) -> dict[str, list[str]]:
    tables = {table: RANDOM.sub("~", stored["rows"]).splitlines() for table, stored in rows.items()}
    for table in OF_THE_CALENDAR:
        tables[table] = [CALENDAR.sub("~", line) for line in tables[table]]
    return tables


def test_the_copy_is_what_the_actions_build_on_that_day(new_sequences: None, settings: Any) -> None:
    settings.PASSWORD_HASHERS = DEMO_HASHERS
    with transaction.atomic():
        DemoSchool(TODAY, lambda name: None).build()
        built = comparable(read_rows())
        transaction.set_rollback(True)
    load_school(STORED_SCHOOL, TODAY)
    copied = comparable(read_rows())
    different = {
        table: next(pair for pair in zip_longest(copied.get(table, []), built.get(table, [])) if pair[0] != pair[1])
        for table in copied.keys() | built.keys()
        if copied.get(table) != built.get(table)
    }
    assert different == {}, "Write the file anew: manage.py load_demo --rebuild in an empty database."
    assert [str(finding) for finding in audit_records().findings] == []
    # Where the next row goes on.
    assert Seal.objects.latest("number").number == Seal.objects.count()
    entry = JournalEntry.objects.create(
        at=utc_datetime(TODAY, 20), what="looked at", subject_kind="school.person", subject_id=1
    )
    assert entry.pk > len(built["school_journalentry"])


@pytest.mark.django_db
def test_a_file_for_other_tables_is_refused_in_a_sentence(tmp_path: Path) -> None:
    stored = json.loads(lzma.decompress(STORED_SCHOOL.read_bytes()))
    stored["tables"]["school_runway"]["columns"][-1] = "no_such_column"
    changed = tmp_path / "school.json.xz"
    changed.write_bytes(lzma.compress(json.dumps(stored).encode()))
    with pytest.raises(StoredSchoolUnfit, match=r"school_runway changed: rebuild it with manage.py load_demo"):
        load_school(changed, TODAY)
    assert not Person.objects.exists()
