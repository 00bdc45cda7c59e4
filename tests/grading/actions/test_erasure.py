"""Erasure after retention: two people, the day, the tombstone, the one function of the database, nothing left."""

import json
from datetime import timedelta
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import DatabaseError, connection, models, transaction
from django.test import Client

from grading.actions import erasure as erasing
from grading.evidence import chain, erasure_plan
from grading.models import Erasure, Seal, Sheet
from lessons.models import Enrolment
from school import journal
from school.accounts import waiting
from school.errors import Refusal
from school.models import JournalEntry, Person
from tests.app_role import app_role, app_role_rights
from tests.cast import SECRET, Cast
from tests.factories import fly_lesson
from tests.grading.ended_training import (
    change_dates,
    create_ended_enrolment,
    create_endorsement_list,
    create_full_training,
    create_signed_lesson,
)

__all__ = ["app_role_rights"]  # a fixture
OURS = ("school", "lessons", "grading", "account", "mfa", "usersessions")


def propose(cast: Cast, enrolment: Any = None) -> Erasure:
    return erasing.propose_erasure(
        enrolment=enrolment or cast.enrolment, reason="The time of keeping is over.", by=cast.frida, at=cast.at(9)
    )


def erase(cast: Cast, enrolment: Any = None) -> Seal:
    return erasing.confirm_erasure(
        erasure=propose(cast, enrolment), secret=SECRET, by=cast.amelia, at=cast.at(10)
    )  # fmt: skip


def query_value(sql: str, *values: Any) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall() if cursor.description else None


def guarded_tables() -> list[str]:
    rows = query_value("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY tablename")
    return [name for (name,) in rows]


def tables_containing(text: str) -> list[str]:
    """The tables of the database in which a text stands in any column; the journal is told apart."""
    found = [
        table
        for table in guarded_tables()
        if query_value(f"SELECT 1 FROM {table} AS row WHERE strpos(lower(row::text), lower(%s)) > 0 LIMIT 1", text)
    ]
    return [table for table in found if table != "school_journalentry"]


def test_every_table_of_a_student_is_erased_or_kept_for_a_reason() -> None:
    ours = [model for name in OURS for model in apps.get_app_config(name).get_models()]
    reached: set[type[models.Model]] = {Enrolment, Person}
    while (
        more := {
            model
            for model in ours
            for field in model._meta.get_fields()
            if isinstance(field, models.ForeignKey) and field.related_model in reached
        }
        - reached
    ):
        reached |= more
    # Rows that name a person by value have no key to walk along.
    reached |= {JournalEntry, Seal, Session}
    told = {row.table for row in erasure_plan.ERASURE_STEPS} | set(erasure_plan.RETAINED_TABLES)
    assert {model._meta.db_table for model in reached} == told
    assert all(len(reason) > 20 for reason in erasure_plan.RETAINED_TABLES.values())


@pytest.mark.django_db
def test_the_database_follows_the_list() -> None:
    told = [(row.table, row.condition, row.alone) for row in erasure_plan.ERASURE_STEPS]
    assert query_value("SELECT tbl, condition, alone FROM erasure_plan() ORDER BY step") == told


def test_the_newest_migration_carries_the_list_as_text() -> None:
    newest = max((settings.BASE_DIR / "grading/migrations/sql").glob("*_erasure_plan.sql"))
    assert newest.read_text() == erasure_plan.erasure_plan_sql()


@pytest.mark.django_db
def test_every_guard_of_the_project_lets_the_erasure_through_and_is_not_blinded() -> None:
    guards = query_value(
        "SELECT DISTINCT c.relname, p.proname, p.prosrc, coalesce(p.proconfig, '{}'), t.tgtype & 8 FROM pg_trigger t"
        " JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid"
        " WHERE NOT t.tgisinternal AND p.proname NOT LIKE 'procrastinate%%' AND c.relname NOT LIKE 'procrastinate%%'"
    )
    assert len(guards) > 30
    erased = {row.table for row in erasure_plan.ERASURE_STEPS}
    shut = {
        f"{table}: {name}"
        for table, name, source, _, on_delete in guards
        if on_delete and table in erased | {"grading_seal"} and "record_is_being_erased(TG_RELID)" not in source
    }
    assert shut == set()
    assert {name for _, name, _, settings, _ in guards if "search_path=public, pg_temp" not in settings} == set()


def test_erased_by_two_people_and_nothing_of_the_student_is_left(cast: Cast) -> None:
    enrolment = create_full_training(cast)
    fly_lesson(cast, enrolment=cast.other_enrolment)
    hers, his = create_endorsement_list(cast, cast.dora), create_endorsement_list(cast, cast.emil)
    rows = {row.table: query_value(f"SELECT count(*) FROM {row.table}")[0][0] for row in erasure_plan.ERASURE_STEPS}
    assert all(rows.values()), rows  # the test is worth nothing for a table that was empty before
    before = rows_of_the_others(cast)
    assert tables_containing("Dora") != []
    sealed = {seal.number: seal for seal in erasure_plan.seals_to_empty(enrolment)}
    assert {seal.kind for seal in sealed.values()} == {
        "lesson", "acknowledgement", "discarded", "release", "sheet", "endorsement", "track",
    }  # fmt: skip

    stone = erase(cast)

    assert tables_containing("Dora") == []
    assert tables_containing("dora@school.example") == []
    assert tables_containing("2000-05-05") == []
    assert rows_of_the_others(cast) == before
    assert list(Sheet.objects.all()) == [his]
    assert chain.first_broken_link(chain.iterate_chain()) is None
    emptied = list(Seal.objects.filter(canonical="").order_by("number"))
    assert {seal.number: seal.digest for seal in emptied} == {n: seal.digest for n, seal in sealed.items()}
    record = json.loads(stone.canonical)
    assert [(row["number"], row["kind"], row["digest"]) for row in record["erased"]] == [
        (seal.number, seal.kind, seal.digest) for seal in emptied
    ]
    assert (record["proposed_by"]["name"], record["confirmed_by"]["name"]) == ("Frida Example", "Amelia Example")
    assert (record["student"], record["reason"]) == ("T-4", "The time of keeping is over.")
    assert hers.uid in {seal.subject for seal in emptied}
    person = Person.objects.get(pk=cast.dora.pk)
    assert (person.name, person.email, person.born, person.is_active) == ("Student T-4", "", None, False)
    assert not person.has_usable_password()
    assert JournalEntry.objects.filter(about_id=cast.dora.pk, what="lesson signed").exists()
    entry = JournalEntry.objects.get(what="record erased")
    assert entry.after["seal"] == stone.number
    assert entry.after["rows"]["lessons_lesson"] == 1
    assert not Client().login(username="dora", password=SECRET)


def rows_of_the_others(cast: Cast) -> dict[str, Any]:
    """Every row of Emil's enrolment and of the staff, as text, and the tables an erasure must not touch."""
    told = {
        f"{place} {row.table}": query_value(
            f"SELECT md5(string_agg(r::text, '' ORDER BY r::text)) FROM {row.table} r"
            f" WHERE {row.condition.replace('$1', str(cast.other_enrolment.pk))}"
        )
        for place, row in enumerate(erasure_plan.ERASURE_STEPS)
    }
    hers = {row.table for row in erasure_plan.ERASURE_STEPS} | {
        "grading_seal",
        "grading_erasure",
        "school_journalentry",
    }
    for table in set(guarded_tables()) - hers:
        others = f" WHERE id <> {cast.dora.pk}" if table == "school_person" else ""
        told[table] = query_value(
            f"SELECT count(*), md5(string_agg(r::text, '' ORDER BY r::text)) FROM {table} r{others}"
        )
    return told


def test_another_enrolment_keeps_the_person_and_their_papers(cast: Cast) -> None:
    enrolment = create_full_training(cast)
    other = Enrolment.objects.create(
        student=cast.dora, syllabus=enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
        enrolled_on=cast.today,
    )  # fmt: skip
    listed = create_endorsement_list(cast, cast.dora)
    erase(cast)
    person = Person.objects.get(pk=cast.dora.pk)
    assert (person.name, person.is_active, person.papers.count()) == ("Dora Example", True, 1)
    assert set(Enrolment.objects.filter(student=person)) == {other}
    assert Sheet.objects.filter(pk=listed.pk).exists()
    stays = {row.table for row in erasure_plan.ERASURE_STEPS if row.alone} | {"school_person", "grading_seal"}
    assert set(tables_containing("Dora")) <= stays


@pytest.mark.parametrize("role", ["instructor", "admin", "chief"])
def test_whoever_works_at_the_school_keeps_their_name(cast: Cast, role: str) -> None:
    create_full_training(cast)
    Person.objects.filter(pk=cast.dora.pk).update(roles=["student", role])
    erase(cast)
    assert Person.objects.get(pk=cast.dora.pk).name == "Dora Example"


def test_whoever_taught_others_keeps_their_name_after_the_role_is_gone(cast: Cast) -> None:
    create_full_training(cast)
    Enrolment.objects.filter(pk=cast.other_enrolment.pk).update(instructor=cast.dora)
    erase(cast)
    assert Person.objects.get(pk=cast.dora.pk).name == "Dora Example"


def test_an_address_that_waited_does_not_come_back_after_it(cast: Cast) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(
        new_email="dora@new.example", new_email_from=cast.at(), second_step_reset_from=cast.at(),
        earlier_email="dora@old.example", earlier_email_until=cast.at(days_ago=-9),
    )  # fmt: skip
    create_ended_enrolment(cast, cast.enrolment)
    erase(cast)
    waiting.settle_all(cast.at(days_ago=-9))
    dora = Person.objects.get(pk=cast.dora.pk)
    assert (dora.email, dora.new_email, dora.earlier_email) == ("", "", "")


# Who may take part, and when


def test_nothing_is_proposed_before_the_time_is_over(cast: Cast) -> None:
    with pytest.raises(Refusal, match="has not ended"):
        propose(cast, cast.other_enrolment)
    enrolment = create_ended_enrolment(cast, cast.other_enrolment, days_ago=400)
    with pytest.raises(Refusal, match=r"must be kept until .* \(5 years after"):
        propose(cast, enrolment)


def test_proposed_with_a_reason_that_does_not_name_the_student(cast: Cast) -> None:
    enrolment = create_ended_enrolment(cast, cast.enrolment)
    for reason, why in ((" ", "Write the reason"), ("Dora asked for it", "name out"), ("Of Example, D.", "name out")):
        with pytest.raises(Refusal, match=why):
            erasing.propose_erasure(enrolment=enrolment, reason=reason, by=cast.frida, at=cast.at(9))
    for stranger in (cast.bert, cast.dora, cast.emil):
        with pytest.raises(Refusal, match="Only the administrator or the chief"):
            erasing.propose_erasure(enrolment=enrolment, reason="Over", by=stranger, at=cast.at(9))
    propose(cast)
    with pytest.raises(Refusal, match="already been proposed"):
        propose(cast)


def test_confirmed_by_another_person_with_their_secret(cast: Cast) -> None:
    create_ended_enrolment(cast, cast.enrolment)
    asked = propose(cast)
    for who, secret, why in (
        (cast.frida, SECRET, "You proposed"),
        (cast.bert, SECRET, "Only the administrator"),
        (cast.amelia, "guess", "Wrong password"),
    ):
        with pytest.raises(Refusal, match=why):
            erasing.confirm_erasure(erasure=asked, secret=secret, by=who, at=cast.at(10))
    assert Enrolment.objects.filter(pk=cast.enrolment.pk).exists()
    erasing.confirm_erasure(erasure=asked, secret=SECRET, by=cast.amelia, at=cast.at(10))
    assert not Enrolment.objects.filter(pk=cast.enrolment.pk).exists()
    with pytest.raises(Refusal, match="no longer open"):
        erasing.confirm_erasure(erasure=asked, secret=SECRET, by=cast.amelia, at=cast.at(11))


def test_a_proposal_is_withdrawn_and_made_again(cast: Cast) -> None:
    create_ended_enrolment(cast, cast.enrolment)
    asked = propose(cast)
    erasing.withdraw_erasure(erasure=asked, by=cast.amelia, at=cast.at(10))
    with pytest.raises(Refusal, match="no longer open"):
        erasing.confirm_erasure(erasure=asked, secret=SECRET, by=cast.amelia, at=cast.at(11))
    erase(cast)
    said = JournalEntry.objects.filter(subject_kind="grading.erasure").order_by("pk")
    assert [entry.what for entry in said] == [
        "erasure proposed", "proposal of erasure withdrawn", "erasure proposed", "record erased",
    ]  # fmt: skip


def test_nobody_takes_part_in_their_own(cast: Cast) -> None:
    enrolment = create_ended_enrolment(cast, cast.enrolment)
    Person.objects.filter(pk=cast.dora.pk).update(roles=["student", "admin"])
    cast.dora.refresh_from_db()
    with pytest.raises(Refusal, match="own record"):
        erasing.propose_erasure(
            enrolment=Enrolment.objects.for_pages().get(pk=enrolment.pk), reason="Over", by=cast.dora, at=cast.at(9)
        )


# What the database refuses to the application's role


def confirmed_erasure(cast: Cast) -> Erasure:
    """As the application writes it, short of the erasure itself."""
    asked = propose(cast)
    asked.confirmed_at, asked.confirmed_by = cast.at(10), cast.amelia
    asked.save()
    return asked


def erasure_seal(cast: Cast, asked: Erasure, left_out: int = 0) -> Seal:
    seals = erasure_plan.seals_to_empty(cast.enrolment)
    named = [{"number": row.number, "kind": row.kind, "digest": row.digest} for row in seals]
    return chain.seal(
        kind=Seal.Kind.ERASURE, subject=asked.uid, record={"erased": named[left_out:]}, at=cast.at(10)
    )  # fmt: skip


def execute_as_app(*statements: str) -> None:
    with transaction.atomic(), app_role():
        for statement in statements:
            query_value(statement)


def carry_out(asked: Erasure, day: Any) -> None:
    with transaction.atomic(), app_role():
        query_value("SELECT erase_enrolment(%s, %s)", asked.pk, day)


def test_the_application_erases_through_the_function_alone(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    asked = confirmed_erasure(cast)
    erasure_seal(cast, asked)
    carry_out(asked, cast.today)
    assert not Enrolment.objects.filter(pk=cast.enrolment.pk).exists()
    assert query_value("SELECT current_setting('record.erasing', true)") in ([("",)], [(None,)])
    journal.record(by=cast.frida, at=cast.at(11), what="looked", subject=asked)
    assert chain.first_broken_link(chain.iterate_chain()) is None


def test_nothing_is_erased_without_a_second_person(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    asked = propose(cast)
    erasure_seal(cast, asked)
    with pytest.raises(DatabaseError, match="two different people"):
        carry_out(asked, cast.today)
    with pytest.raises(DatabaseError, match="erasure_by_two_people"), transaction.atomic(), app_role():
        Erasure.objects.filter(pk=asked.pk).update(confirmed_at=cast.at(10), confirmed_by=cast.frida)
    Erasure.objects.filter(pk=asked.pk).update(confirmed_at=cast.at(10), confirmed_by=cast.bert)
    with pytest.raises(DatabaseError, match="two different people"):  # Bert is no administrator, nor chief
        carry_out(asked, cast.today)
    with pytest.raises(DatabaseError, match="no such erasure"):
        carry_out(Erasure(pk=0), cast.today)


def test_nothing_is_erased_too_early_whatever_day_is_claimed(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    asked = confirmed_erasure(cast)
    erasure_seal(cast, asked)
    ended = cast.enrolment.ended_on
    cases = ((ended.replace(year=ended.year + 5), "kept until"), (cast.today + timedelta(days=2), "kept until"))
    for day, why in cases:
        with pytest.raises(DatabaseError, match=why):
            carry_out(asked, day)
    change_dates(cast.enrolment, ended_on=cast.today - timedelta(days=365 * 5))
    with pytest.raises(DatabaseError, match="kept until"):
        carry_out(asked, cast.today)
    change_dates(cast.enrolment, ended_on=None, end="")
    with pytest.raises(DatabaseError, match="training has ended"):
        carry_out(asked, cast.today)
    # Not even with a clock of one's own: the day is taken in UTC.
    tomorrow = (cast.today + timedelta(days=1)).isoformat()
    with pytest.raises(DatabaseError, match="kept until"):
        execute_as_app("SET LOCAL timezone = 'Pacific/Kiritimati'", f"SELECT erase_enrolment({asked.pk}, '{tomorrow}')")


def test_nothing_is_erased_without_a_seal_that_names_all_of_it(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    asked = confirmed_erasure(cast)
    with pytest.raises(DatabaseError, match="no seal of this erasure"):
        carry_out(asked, cast.today)
    erasure_seal(cast, asked, left_out=1)
    with pytest.raises(DatabaseError, match="no seal of this erasure"):
        carry_out(asked, cast.today)


def test_a_seal_that_names_more_than_goes_is_refused(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    fly_lesson(cast, enrolment=cast.other_enrolment)
    asked = confirmed_erasure(cast)
    every = Seal.objects.order_by("number")
    named = [{"number": row.number, "kind": row.kind, "digest": row.digest} for row in every]
    chain.seal(kind=Seal.Kind.ERASURE, subject=asked.uid, record={"erased": named}, at=cast.at(10))
    with pytest.raises(DatabaseError, match="no seal of this erasure"):
        carry_out(asked, cast.today)


MARK = "SELECT set_config('record.erasing', 'on', true)"
FORGERIES = [
    ("DELETE FROM lessons_lesson", "the record is final"),
    ("DELETE FROM lessons_circuit", "the lesson is signed"),
    ("DELETE FROM grading_attempt", "the lesson is signed"),
    ("DELETE FROM grading_faultseen", "the lesson is signed"),
    ("DELETE FROM grading_signature", "the record is final"),
    ("DELETE FROM grading_sheet", "the record is final"),
    ("DELETE FROM grading_release", "the decision is final"),
    ("DELETE FROM grading_setaside", "the decision is final"),
    ("DELETE FROM lessons_syllabusmove", "the record is final"),
    ("DELETE FROM grading_seal", "the record is final"),
    ("UPDATE grading_seal SET canonical = ''", "the record is final"),
    ("DELETE FROM school_journalentry", "the record is final"),
    ("UPDATE grading_erasure SET reason = 'another'", "the erasure is final"),
    ("DELETE FROM grading_erasure", "the erasure is final"),
]


@pytest.mark.parametrize(("statement", "why"), FORGERIES)
def test_the_mark_of_an_erasure_cannot_be_forged(cast: Cast, app_role_rights: None, statement: str, why: str) -> None:
    create_full_training(cast)
    propose(cast)
    with pytest.raises(DatabaseError, match=why):
        execute_as_app(MARK, statement)
    with pytest.raises(DatabaseError, match=why), transaction.atomic():  # nor does the owner's role alone do
        query_value(statement)


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM school_journalentry", "UPDATE school_journalentry SET what = ''", "DELETE FROM grading_seal",
        "UPDATE grading_seal SET digest = ''", "DELETE FROM grading_standard", "TRUNCATE grading_tap CASCADE",
        "UPDATE lessons_lesson SET remarks = ''", "UPDATE grading_signature SET name = ''",
    ],
)  # fmt: skip
def test_what_no_erasure_touches_stays_final_even_under_the_mark(cast: Cast, statement: str) -> None:
    create_full_training(cast)
    query_value(MARK)
    with pytest.raises(DatabaseError, match=r"is (final|signed)"), transaction.atomic():
        query_value(statement)


def test_a_temporary_table_does_not_blind_the_guards(cast: Cast, app_role_rights: None) -> None:
    create_full_training(cast)
    blind = (
        "CREATE TEMPORARY TABLE lessons_lesson (id bigint, signed_at timestamptz) ON COMMIT DROP",
        "CREATE TEMPORARY TABLE grading_attempt (id bigint, lesson_id bigint) ON COMMIT DROP",
        "CREATE TEMPORARY TABLE grading_seal (LIKE public.grading_seal) ON COMMIT DROP",
    )
    with pytest.raises(DatabaseError, match="an entry of a lesson is final"):
        execute_as_app(*blind, "DELETE FROM public.grading_tap")
    with pytest.raises(DatabaseError, match="the lesson is signed"):
        execute_as_app(*blind, "DELETE FROM public.grading_measure")
    asked = confirmed_erasure(cast)
    with pytest.raises(DatabaseError, match="no seal of this erasure"):
        execute_as_app(*blind, f"SELECT erase_enrolment({asked.pk}, '{cast.today.isoformat()}')")


def test_others_may_not_call_it(cast: Cast) -> None:
    rows = query_value(
        "SELECT grantee FROM information_schema.routine_privileges WHERE routine_name = 'erase_enrolment' ORDER BY 1"
    )
    owner = query_value("SELECT current_user")[0][0]
    assert {name for (name,) in rows} == {"record_app", owner}


# The chain


def sealed_links(cast: Cast) -> list[Seal]:
    create_full_training(cast)
    erase(cast)
    return list(chain.iterate_chain())


def test_an_empty_text_without_a_later_erasure_is_a_broken_link(cast: Cast) -> None:
    written = sealed_links(cast)
    assert chain.first_broken_link(iter(written)) is None
    broken = chain.first_broken_link(iter(written[:-1]))
    assert broken is not None
    assert (broken.number, broken.why) == (written[0].number, "its text is empty, and no later erasure names it")


@pytest.mark.parametrize("changed", [{"digest": "0" * 64}, {"kind": "test"}, {"number": 999}])
def test_an_erasure_that_names_another_seal_covers_nothing(cast: Cast, changed: dict[str, Any]) -> None:
    written = sealed_links(cast)
    record = json.loads(written[-1].canonical)
    record["erased"][1] |= changed
    written[-1].canonical = chain.rfc8785.dumps(record).decode()
    written[-1].digest = chain.link_digest(written[-1].previous, written[-1].canonical)
    broken = chain.first_broken_link(iter(written))
    assert broken is not None
    assert broken.number == 2


def test_an_erasure_does_not_cover_what_comes_after_it(cast: Cast) -> None:
    written = sealed_links(cast)
    uid = written[0].subject
    last = written[-1]
    later = Seal(
        number=last.number + 1, kind="lesson", subject=uid, canonical="", previous=last.digest, digest="1",
        sealed_at=last.sealed_at,
    )  # fmt: skip
    broken = chain.first_broken_link(iter([*written, later]))
    assert broken is not None
    assert broken.number == later.number


def test_an_erased_link_put_elsewhere_is_found(cast: Cast) -> None:
    written = sealed_links(cast)
    written[0].digest = "0" * 64
    broken = chain.first_broken_link(iter(written))
    assert broken is not None
    assert broken.why == "it does not follow the seal before it"


def test_lessons_of_others_go_on_after_an_erasure(cast: Cast) -> None:
    create_full_training(cast)
    erase(cast)
    create_signed_lesson(cast, 1, enrolment=cast.other_enrolment)
    assert chain.first_broken_link(chain.iterate_chain()) is None


# The pages


def test_the_pages_lead_from_the_list_to_the_erasure(cast: Cast, client: Client) -> None:
    enrolment = create_full_training(cast)
    page = f"/records/{enrolment.uid}/erasure/"
    client.force_login(cast.frida)
    listed = client.get("/records/retention/").text
    assert "1 record may be erased" in " ".join(listed.split())
    shown = client.get(page).text
    assert "14 CFR 61.189(c)" in shown
    assert "Lessons: 1" in shown
    assert "the append-only account of who did what" in shown.lower()
    refused = client.post(page + "propose/", {"reason": "Dora asked"})
    assert refused.status_code == 422
    assert ">Dora asked</textarea>" in refused.text
    assert client.post(page + "propose/", {"reason": "Over"}).status_code == 302
    assert client.post(page + "confirm/", {"secret": SECRET}).status_code == 422
    assert "Waiting for a second person" in client.get("/records/retention/").text
    client.force_login(cast.amelia)
    assert client.post(page + "confirm/", {"secret": "guess"}).status_code == 422
    assert client.post(page + "withdraw/").status_code == 302
    assert client.post(page + "confirm/", {"secret": SECRET}).status_code == 422
    client.post(page + "propose/", {"reason": "Over"})
    client.force_login(cast.frida)
    done = client.post(page + "confirm/", {"secret": SECRET}, follow=True)
    assert "The record of T-4 is erased" in done.text
    assert "Dora" not in done.text
    assert client.get(page).status_code == 404
    assert client.get("/records/").status_code == 200
