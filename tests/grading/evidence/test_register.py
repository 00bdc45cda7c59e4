"""Facts and journal in the chain: sealed as they change, compared with the tables, and not dated into the past."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from grading.actions import erasure as erasing
from grading.evidence import register
from grading.evidence.audit.check import audit_records
from grading.evidence.erasure_plan import seals_to_empty
from grading.models import Seal, Standard
from grading.operations import daily
from lessons import actions as lesson_actions
from lessons.models import Enrolment, GateSet
from school import actions as school_actions
from school import journal
from school.accounts import actions as accounts
from school.models import AircraftType, JournalEntry, Paper, Person, SigningCertificate
from tests.app_role import app_role, app_role_rights
from tests.cast import SECRET, Cast
from tests.database_guards import execute_sql, guards_off
from tests.factories import fly_lesson
from tests.grading.ended_training import create_ended_enrolment

__all__ = ["app_role_rights"]


def sentences() -> list[str]:
    return [str(row) for row in audit_records().findings]


def last_batch() -> dict[str, Any]:
    return register.sealed_record(Seal.objects.filter(kind="journal").latest("number"))


def open_now(cast: Cast) -> None:
    assert register.open_register(cast.at(5, 30))


def test_what_stands_is_sealed_as_found_on_its_day(cast: Cast) -> None:
    assert audit_records().notes == [
        "The register is not open yet: facts and journal are not sealed. The daily check opens it."
    ]
    open_now(cast)
    assert not register.open_register(cast.at(6, 30))
    facts = [register.sealed_record(row) for row in Seal.objects.filter(kind="fact")]
    assert {row["fact"] for row in facts} == {
        "standard", "scale", "syllabus", "gates", "document", "enrolment", "person", "aircraft type",
    }  # fmt: skip
    assert all(row["as_found"] and row["at"].startswith(str(cast.at(5, 30).date())) for row in facts)
    (batch,) = map(register.sealed_record, Seal.objects.filter(kind="journal"))
    assert len(batch["entries"]) == JournalEntry.objects.count()
    assert sentences() == []
    assert audit_records().notes == []


def test_a_change_is_sealed_before_the_next_record_and_its_reason_is_the_journal(cast: Cast) -> None:
    open_now(cast)
    before = Seal.objects.count()
    accounts.change_roles(person=cast.cleo, roles=["instructor", "admin"], by=cast.frida, at=cast.at(6))
    school_actions.record_paper(
        person=cast.dora, kind="medical", medical_class="3", issued=cast.today - timedelta(days=300), by=cast.frida,
        at=cast.at(7),
    )  # fmt: skip
    lesson_actions.change_instructor(enrolment=cast.enrolment, instructor=cast.cleo, by=cast.frida, at=cast.at(8))
    lesson_actions.change_instructor(enrolment=cast.enrolment, instructor=cast.bert, by=cast.frida, at=cast.at(8))
    assert audit_records().notes == ["4 entries of the journal wait for the next batch."]
    fly_lesson(cast)
    assert sentences() == []
    kinds = list(Seal.objects.filter(number__gt=before).order_by("number").values_list("kind", flat=True))
    # The enrolment stands as it stood, so it has no new seal.
    assert kinds == ["fact", "fact", "journal", "lesson"]
    facts = Seal.objects.filter(number__gt=before, kind="fact").order_by("number")
    assert [register.sealed_record(row)["fact"] for row in facts] == ["document", "person"]


Attack = Callable[[Cast], Any]
ATTACKS: dict[str, tuple[Attack, str]] = {
    "a standard is dated back": (
        lambda c: Standard.objects.filter(rule_set="us").update(valid_from=date(2020, 1, 1)),
        "standard us-2026: valid_from was ",
    ),
    "a standard is loosened": (
        lambda c: execute_sql(
            "UPDATE grading_standard SET content = replace(content::text, '\"years\": 16', '\"years\": 12')::jsonb"
        ),
        "standard ",
    ),
    "a standard is inserted": (
        lambda c: Standard.objects.create(key="soft", rule_set="us", valid_from=date(2021, 1, 1), content={}),
        "standard soft: it has no seal",
    ),
    "gates are moved": (
        lambda c: GateSet.objects.update(valid_from=date(2020, 1, 1)),
        "gates Gates of ",
    ),
    "a criterion is loosened": (
        lambda c: execute_sql("UPDATE lessons_criterion SET text = 'Nothing'"),
        "syllabus ",
    ),
    "a scale is stretched": (
        lambda c: execute_sql("UPDATE lessons_gradescale SET solo = 'practice'"),
        "scale ",
    ),
    "a document is inserted": (
        lambda c: Paper.objects.create(
            person=c.dora, kind="english", issued=c.today, recorded_at=c.at(9), recorded_by=c.frida
        ),
        "document English proficiency of Dora Example: it has no seal",
    ),
    "a document is removed": (lambda c: Paper.objects.filter(person=c.bert).delete(), "document "),
    "an enrolment is dated back": (
        lambda c: Enrolment.objects.filter(pk=c.enrolment.pk).update(enrolled_on=c.today - timedelta(days=900)),
        "enrolment Dora Example, ",
    ),
    "a student is made older": (
        lambda c: Person.objects.filter(pk=c.dora.pk).update(born=date(1990, 1, 1)),
        "person Dora Example: born was 2000-05-05, is 1990-01-01",
    ),
    "a student becomes chief instructor": (
        lambda c: Person.objects.filter(pk=c.dora.pk).update(roles=["chief"]),
        "person Dora Example: roles[0] was student, is chief",
    ),
    "a type becomes tame": (
        lambda c: AircraftType.objects.update(demonstrated_crosswind_kt=40),
        "aircraft type ",
    ),
    "a type loses its tailwheel": (
        lambda c: AircraftType.objects.update(tailwheel=False),
        "aircraft type ",
    ),
    "a certificate of another signer is added": (
        lambda c: SigningCertificate.objects.bulk_create(
            [SigningCertificate(fingerprint="f" * 64, pem="x", demonstration=False, first_used_at=c.at())]
        ),
        "signing certificate Signing certificate ffffffffffff: it has no seal",
    ),
    "an entry of the journal is altered": (
        lambda c: JournalEntry.objects.filter(what="enrolled").update(person_name="Nobody"),
        "journal entry ",
    ),
    "an entry of the journal is removed": (
        lambda c: JournalEntry.objects.filter(what="paper recorded").delete(),
        "journal entry ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("attack", ATTACKS)
def test_the_check_names_what_does_not_fit(cast: Cast, attack: str) -> None:
    open_now(cast)
    act, sentence = ATTACKS[attack]
    with guards_off():
        act(cast)
    first = sentences()[0]
    assert first.split(": ", 1)[-1 if first.startswith("seal") else 0].startswith(sentence) or sentence in first


def test_a_change_without_an_account_is_not_covered_by_the_next_one(cast: Cast) -> None:
    """A silent change and then an honest one of the same person: both are sealed, and the silent one is named."""
    open_now(cast)
    Person.objects.filter(pk=cast.dora.pk).update(born=date(1990, 1, 1))
    accounts.edit_person(person=cast.dora, changes={"family_name": "Other"}, by=cast.frida, at=cast.at(7))
    fly_lesson(cast)
    (found,) = sentences()
    assert "born was 2000-05-05, is 1990-01-01, and the journal does not say why" in found


def test_a_password_exchanged_in_the_table_is_sealed_by_the_signature_it_serves(cast: Cast) -> None:
    """Exchanged, used to log in and to sign, and put back: nothing but the seal in between is left of it."""
    open_now(cast)
    own = cast.bert.password
    Person.objects.filter(pk=cast.bert.pk).update(password=cast.cleo.password)
    accounts.record_account_event(person=cast.bert, what="logged in", by=cast.bert, at=cast.at(8))
    fly_lesson(cast)
    Person.objects.filter(pk=cast.bert.pk).update(password=own)
    found = sentences()
    assert any("login was" in line and "the journal does not say why" in line for line in found), found
    # An honest change has its entry.
    Person.objects.filter(pk=cast.dora.pk).update(password=cast.cleo.password)
    accounts.record_account_event(person=cast.dora, what="password changed", by=cast.dora, at=cast.at(12))
    register.catch_up(cast.at(13))
    assert not [line for line in sentences() if "Dora" in line]


def test_an_entry_of_a_longer_transaction_comes_into_the_next_batch(cast: Cast) -> None:
    open_now(cast)
    journal.record(by=cast.frida, at=cast.at(8), what="paper recorded", subject=cast.dora)
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval(pg_get_serial_sequence('school_journalentry', 'id'))")
        (lost,) = cursor.fetchone()
    fly_lesson(cast)
    entry = JournalEntry.objects.latest("pk")
    # Within a day it may be of a transaction that had not ended: the next batch takes it.
    entry.pk, entry.what = lost, "roles changed"
    JournalEntry.objects.bulk_create([entry])
    assert lost in dict(last_batch()["missing"])
    assert sentences() == []
    register.catch_up(cast.at(20))
    assert lost in dict(last_batch()["entries"])
    assert sentences() == []


def test_an_entry_inserted_after_its_day_is_found(cast: Cast) -> None:
    open_now(cast)
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval(pg_get_serial_sequence('school_journalentry', 'id'))")
        (lost,) = cursor.fetchone()
    journal.record(by=cast.frida, at=cast.at(8, 5), what="paper recorded", subject=cast.dora)
    register.catch_up(cast.at(8, 5))
    journal.record(by=cast.frida, at=cast.at(8), what="paper recorded", subject=cast.dora)
    register.catch_up(cast.at(9))
    entry = JournalEntry.objects.latest("pk")
    entry.pk = lost
    JournalEntry.objects.bulk_create([entry])
    assert sentences() == [f"journal entry {lost} (paper recorded): it was inserted later"]


REFUSED = {
    "a standard in force before the newest seal": (
        "INSERT INTO grading_standard (key, rule_set, valid_from, content) SELECT 'soft', rule_set, '2021-01-01',"
        " content FROM grading_standard LIMIT 1"
    ),
    "gates for lessons that are signed": (
        "INSERT INTO lessons_gateset (aircraft_type_id, issue, valid_from, shape, published)"
        " SELECT aircraft_type_id, 9, '2021-01-01', shape, false FROM lessons_gateset LIMIT 1"
    ),
    "a document recorded before the newest seal": (
        "INSERT INTO school_paper (person_id, kind, number, medical_class, issued, recorded_at, recorded_by_id,"
        " void_reason) SELECT id, 'english', '', '', '2021-01-01', '2021-01-01', id, '' FROM school_person LIMIT 1"
    ),
    "an entry of the journal before the newest seal": (
        "INSERT INTO school_journalentry (at, person_name, what, subject_kind, subject_id, subject_label)"
        " VALUES ('2021-01-01', 'x', 'x', 'x', 1, 'x')"
    ),
}


@pytest.mark.parametrize("attack", REFUSED)
def test_the_database_refuses_a_row_dated_into_the_past(cast: Cast, attack: str) -> None:
    open_now(cast)
    fly_lesson(cast)
    with pytest.raises(DatabaseError, match="dated into the past of the chain"), transaction.atomic():
        execute_sql(REFUSED[attack])


def test_what_is_recorded_today_about_earlier_days_is_not_refused(cast: Cast) -> None:
    open_now(cast)
    fly_lesson(cast, days_ago=1)
    school_actions.record_paper(
        person=cast.dora, kind="english", issued=cast.today - timedelta(days=900), by=cast.frida, at=cast.at(20)
    )
    register.catch_up(cast.at(21))
    assert sentences() == []


def test_an_entry_dated_back_past_the_guard_is_found(cast: Cast) -> None:
    open_now(cast)
    register.catch_up(cast.at(8))
    with guards_off():
        entry = journal.record(by=cast.frida, at=cast.at(8, 400), what="paper recorded", subject=cast.dora)
    fly_lesson(cast)
    assert f"journal entry {entry.pk} (paper recorded): it is dated back to" in sentences()[0]


@pytest.mark.usefixtures("app_role_rights")
def test_the_daily_check_opens_the_register_and_keeps_it_up(cast: Cast) -> None:
    fly_lesson(cast, days_ago=40)
    with app_role():
        assert daily.check_records(cast.at(1, 30)).endswith("seals hold.")
    assert register.is_open()
    accounts.change_roles(person=cast.cleo, roles=["instructor", "admin"], by=cast.frida, at=cast.at(6))
    with app_role():
        daily.check_records(cast.at(7))
    assert last_batch()["upto"] == JournalEntry.objects.filter(what="roles changed").latest("pk").pk


def test_an_erasure_empties_what_is_sealed_of_the_student(cast: Cast) -> None:
    enrolment = create_ended_enrolment(cast, cast.enrolment)
    register.open_register(cast.at(5))
    asked = erasing.propose_erasure(enrolment=enrolment, reason="Time is over.", by=cast.frida, at=cast.at(9))
    numbers = {seal.number for seal in seals_to_empty(enrolment)}
    facts = Seal.objects.filter(number__in=numbers, kind="fact")
    assert facts.count() == 2  # the person and the enrolment
    erasing.confirm_erasure(erasure=asked, secret=SECRET, by=cast.amelia, at=cast.at(10))
    assert not Seal.objects.filter(kind="fact", canonical__contains="2000-05-05").exists()
    register.catch_up(cast.at(11))
    assert sentences() == []
