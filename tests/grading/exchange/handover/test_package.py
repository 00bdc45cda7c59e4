"""A student's record leaves as one file, proves itself, and comes in elsewhere word for word."""

import base64
import csv
import hashlib
import io
import json
import re
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.utils import timezone

from grading.actions import corrections, sheets, signing
from grading.actions.credit import decide_credit
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.exchange import import_table, receiving
from grading.exchange.handover import archive, preview, record_builder
from grading.exchange.handover.package import build_package
from grading.exchange.handover.preview import open_hand_over
from grading.exchange.handover.record_format import BadRecord, RecordFile, decode_record, encode_record, record_schema
from grading.exchange.handover.soundness import find_problems, seal_digest, text_fingerprint
from grading.exchange.receiving import NewStudent
from grading.models import PendingUpload, ReceivedBatch, ReceivedRecord, Seal, Sheet
from grading.reading.student_summary import summarise_students
from grading.rules.readiness.json_format import verdict_to_json
from grading.sheets.complete_content import build_complete_content
from lessons.models import EarlierTraining, Lesson
from school import actions as school_actions
from school.attachments import CleanFile, attach, withdraw_attachment
from school.errors import Refusal
from school.file_reader import Limits
from school.models import JournalEntry, Person, School, SigningCertificate
from school.templatetags.sheet import groups_of_four
from tests import factories
from tests.cast import SECRET, Cast
from tests.factories import fly_lesson, record_entries, sign_lesson
from tests.shared_state import SharedTransactions


class WipedError(Exception):
    """Ends a school of the tests: everything it wrote is rolled back."""


def create_full_record(cast: Cast) -> None:
    """Lessons, a correction, an acknowledgement, a refusal and a printed sheet."""
    first = fly_lesson(cast, circuits=2, days_ago=9)
    signing.acknowledge_lesson(lesson=first, secret=SECRET, by=cast.dora, at=cast.at(14, 9))
    second = fly_lesson(cast, circuits=1, days_ago=7, level="practice")
    signing.acknowledge_lesson(
        lesson=second, secret=SECRET, by=cast.dora, at=cast.at(14, 7), refuse=True, remark="Not so: “zwölf” knots"
    )
    mended = corrections.begin_correction(lesson=second, reason="landings", by=cast.bert, at=cast.at(15, 7))
    record_entries(cast, mended, **{"lesson.landings": "7", "lesson.dual_minutes": "1.5"})
    sign_lesson(cast, mended, 7)
    fly_lesson(cast, enrolment=cast.other_enrolment, days_ago=6)
    sheets.print_progress_sheet(enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at(16, 0))


def export_record(cast: Cast, student: Person | None = None) -> bytes:
    return receiving.hand_over_record(
        student=student or cast.dora, on=cast.today, by=cast.frida, at=cast.at(17)
    ).content


def record_of(content: bytes) -> RecordFile:
    return decode_record(archive.open_archive(content)[archive.RECORD])


def create_upload(cast: Cast, content: bytes) -> PendingUpload:
    return receiving.save_upload(kind="hand_over", name="record.zip", content=content, by=cast.frida, at=cast.at(18))


def import_record(cast: Cast, content: bytes, student: Person | None = None, **new: Any) -> ReceivedBatch:
    upload = create_upload(cast, content)
    return receiving.import_handover(
        upload=upload, student=student, new=NewStudent(**new) if new else None, by=cast.frida, at=cast.at(19)
    )


def run_in_other_school(work: Callable[[Cast], Any], today: Any) -> Any:
    """What a whole other installation gives: a school of its own, whose database is gone afterwards."""
    found: list[Any] = []
    try:
        with transaction.atomic():
            cast = factories.build_cast(today)
            found.append(work(cast))
            raise WipedError
    except WipedError:
        return found[0]


def export_full_record(cast: Cast) -> bytes:
    create_full_record(cast)
    return export_record(cast)


@pytest.fixture(scope="module")
def foreign_record(shared_transactions: SharedTransactions, django_db_blocker: Any) -> bytes:
    """A hand-over file of Dora from another installation, made once on bare ground: nothing of it stays."""
    shared_transactions.clear()
    with django_db_blocker.unblock():
        made = run_in_other_school(export_full_record, timezone.localdate())
        assert not Person.objects.exists()
        assert not Seal.objects.exists()
    return made


def test_the_file_holds_every_sealed_record_of_the_student_and_nobody_elses(cast: Cast) -> None:
    create_full_record(cast)
    files = archive.open_archive(export_record(cast))
    record = decode_record(files[archive.RECORD])
    own = Seal.objects.exclude(subject__in=Lesson.objects.filter(enrolment=cast.other_enrolment).values("uid"))
    assert [row.seal for row in record.records] == [seal.number for seal in own.order_by("number")]
    assert len(record.records) == 6
    for row, seal in zip(record.records, own.order_by("number"), strict=True):
        assert row.canonical == seal.canonical
        # FIPS 180-4 by hashlib: the fingerprint is of the text alone, the digest of the link.
        assert row.fingerprint == hashlib.sha256(seal.canonical.encode()).hexdigest()
        assert row.digest == hashlib.sha256(f"{seal.previous}\n{seal.canonical}".encode()).hexdigest()
    assert "T-5" not in files[archive.RECORD].decode()
    assert "Emil" not in b"".join(files.values()).decode("latin-1")
    assert files[archive.PROGRESS] == bytes(Sheet.objects.get().pdf)
    table = list(csv.DictReader(io.StringIO(files[archive.LESSONS].decode("utf-8-sig"))))
    assert [(row["Lesson"], row["Version"], row["Landings"]) for row in table] == [("1", "1", "2"), ("2", "2", "7")]
    assert record.summary.lessons == 2
    assert record.summary.flown_here.dual_minutes == 60 + 90
    assert JournalEntry.objects.filter(what="record handed over", about_id=cast.dora.pk).count() == 1


def test_the_complete_record_goes_before_a_newer_progress_sheet(cast: Cast) -> None:
    fly_lesson(cast)
    for kind, number in (("complete", 1), ("progress", 1)):
        Sheet.objects.create(
            kind=kind, enrolment=cast.enrolment, number=number, on=cast.today, paper="A4", content={},
            pdf=kind.encode(), digest="0" * 64, printed_at=cast.at(), printed_by=cast.frida,
        )  # fmt: skip
    files = archive.open_archive(export_record(cast))
    assert files[archive.COMPLETE] == b"complete"
    assert archive.PROGRESS not in files


def test_the_record_keeps_to_its_published_json_schema(cast: Cast) -> None:
    """By the reference implementation of JSON Schema 2020-12 in Python (package jsonschema)."""
    create_full_record(cast)
    files = archive.open_archive(export_record(cast))
    published = json.loads(files[archive.SCHEMA])
    assert published == json.loads(json.dumps(record_schema()))
    jsonschema.Draft202012Validator.check_schema(published)
    validator = jsonschema.Draft202012Validator(published)
    content = json.loads(files[archive.RECORD])
    assert list(validator.iter_errors(content)) == []
    content["records"][0]["fingerprint"] = "not one"
    assert [list(error.absolute_path) for error in validator.iter_errors(content)] == [["records", 0, "fingerprint"]]


def test_the_sums_are_checked_by_the_program_they_are_named_after(cast: Cast, tmp_path: Path) -> None:
    """sha256sum of GNU coreutils."""
    fly_lesson(cast)
    with zipfile.ZipFile(io.BytesIO(export_record(cast))) as unpacked:
        unpacked.extractall(tmp_path)

    def checked() -> int:
        return subprocess.run(["sha256sum", "-c", archive.CHECKSUMS], cwd=tmp_path, capture_output=True).returncode

    assert checked() == 0
    (tmp_path / archive.RECORD).write_bytes((tmp_path / archive.RECORD).read_bytes() + b" ")
    assert checked() == 1


def printed_sheets(record: RecordFile) -> list[str]:
    return [row.fingerprint for _, row in record.all_records]


@pytest.mark.django_db
def test_out_of_one_school_through_a_second_into_a_third_word_for_word(foreign_record: bytes) -> None:
    sent = record_of(foreign_record)
    today = timezone.localdate()

    def second(there: Cast) -> bytes:
        School.objects.update(name="Second School")
        import_record(there, foreign_record, reference="S-77", username="dora-2")
        student = Person.objects.get(reference="S-77")
        assert (student.name, str(student.born)) == ("Dora Example", "2000-05-05")
        assert not student.has_usable_password()
        assert first_broken_link(iterate_chain()) is None
        return export_record(there, student)

    again = run_in_other_school(second, today)
    passed = record_of(again)
    assert not ReceivedRecord.objects.exists()
    cast = factories.build_cast(today)
    assert printed_sheets(sent) == [row.fingerprint for row in passed.received]
    # What the second school sealed itself is that it took them in, and names each.
    assert [row.kind for row in passed.records] == ["received"]
    named = json.loads(passed.records[0].canonical)["records"]
    assert [row["fingerprint"] for row in named] == printed_sheets(sent)
    assert [hand.school for hand in passed.received[0].hands] == ["Second School"]
    batch = import_record(cast, again, cast.dora)
    third = record_builder.build_record_file(cast.dora, cast.today, cast.at(20))
    came = [*passed.received, *passed.records]
    assert [row.fingerprint for row in third.received] == [row.fingerprint for row in came]
    for before, after in zip(passed.received, third.received[: len(passed.received)], strict=True):
        assert (before.canonical, before.seal, before.digest, before.school) == (
            after.canonical, after.seal, after.digest, after.school,
        )  # fmt: skip
        assert [hand.school for hand in after.hands] == ["Second School", "School of the Tests"]
    assert batch.records.count() == len(printed_sheets(passed))
    assert third.received[0].school == sent.school.name
    assert third.summary.earlier_training == sent.summary.flown_here


def test_what_was_taken_in_is_earlier_training_with_the_correction_in_its_place(
    foreign_record: bytes, cast: Cast
) -> None:
    import_record(cast, foreign_record, cast.dora)
    assert EarlierTraining.objects.count() == 3
    standing = EarlierTraining.objects.filter(student=cast.dora).current()
    assert [(row.landings, row.dual_minutes) for row in standing.order_by("on")] == [(2, 60), (7, 90)]
    assert standing.totals()["dual_minutes"] == 150
    assert {row.school for row in standing} == {"School of the Tests"}
    assert {row.certificate for row in standing} == {"C-2"}


def test_it_is_no_evidence_for_readiness(foreign_record: bytes, cast: Cast) -> None:
    fly_lesson(cast, circuits=3)
    before = verdict_to_json(summarise_students([cast.enrolment], cast.today)[0].verdict)
    import_record(cast, foreign_record, cast.dora)
    row = summarise_students([cast.enrolment], cast.today)[0]
    assert verdict_to_json(row.verdict) == before
    assert len(row.history.circuits) == 3


def test_the_same_file_is_taken_in_once(foreign_record: bytes, cast: Cast) -> None:
    import_record(cast, foreign_record, cast.dora)
    with pytest.raises(Refusal, match="already here"):
        import_record(cast, foreign_record, cast.dora)
    assert ReceivedBatch.objects.count() == 1


def test_the_schools_own_records_coming_home_are_known(cast: Cast, client: Client) -> None:
    create_full_record(cast)
    content = export_record(cast)
    upload = create_upload(cast, content)
    client.force_login(cast.frida)
    assert "Every record of this file is already here." in client.get(f"/records/import/{upload.uid}/record/").text
    with pytest.raises(Refusal, match="already here"):
        import_record(cast, content, cast.dora)
    fly_lesson(cast)
    newer = export_record(cast)
    with pytest.raises(Refusal, match="already here"):
        import_record(cast, newer, cast.dora)


def reseal_package(content: bytes, change: Callable[[dict[str, Any]], None]) -> bytes:
    """The file as a forger would make it who can compute: every fingerprint fits again."""
    files = archive.open_archive(content)
    record = json.loads(files[archive.RECORD])
    change(record)
    for row in record["records"]:
        row["fingerprint"] = text_fingerprint(row["canonical"])
        row["digest"] = seal_digest(row["previous"], row["canonical"])
    return repack(files, json.dumps(record).encode())


def repack(files: dict[str, bytes], record: bytes) -> bytes:
    gone = (archive.CHECKSUMS, archive.SIGNATURE)  # whoever has not the school's key can only leave its signature out
    kept = {name: content for name, content in files.items() if name not in gone} | {archive.RECORD: record}
    return archive.pack_zip(kept | {archive.CHECKSUMS: archive.build_checksums(kept)})


def test_a_signature_kept_over_a_changed_manifest_is_refused(foreign_record: bytes, cast: Cast) -> None:
    signature = archive.open_archive(foreign_record)[archive.SIGNATURE]
    files = archive.open_archive(reseal_package(foreign_record, add_an_hour))
    forged = archive.pack_zip(files | {archive.SIGNATURE: signature})
    with pytest.raises((Refusal, BadRecord), match="Its signature is broken"):
        import_record(cast, forged, cast.dora)


def add_an_hour(record: dict[str, Any]) -> None:
    row = record["records"][0]
    row["canonical"] = row["canonical"].replace('"dual":60', '"dual":120')


def test_a_lesson_that_is_here_with_another_text_stops_everything(foreign_record: bytes, cast: Cast) -> None:
    import_record(cast, foreign_record, cast.dora)
    forged = reseal_package(foreign_record, add_an_hour)
    with pytest.raises(Refusal, match="is here already with another text"):
        import_record(cast, forged, cast.dora)
    assert ReceivedBatch.objects.count() == 1


def test_every_altered_record_is_found(foreign_record: bytes) -> None:
    files = archive.open_archive(foreign_record)
    record = json.loads(files[archive.RECORD])
    assert find_problems(decode_record(json.dumps(record).encode())) == []
    for place in range(len(record["records"])):
        for change in ("canonical", "digest", "fingerprint"):
            altered = json.loads(files[archive.RECORD])
            row = altered["records"][place]
            if change == "canonical":
                row["canonical"] = row["canonical"].replace('"format":2', '"format":3')
            else:
                row[change] = row[change][:-1] + ("0" if row[change][-1] != "0" else "1")
            found = find_problems(decode_record(json.dumps(altered).encode()))
            assert found, (place, change)
            assert found[0].startswith(f"records[{place}]: its text does not give")


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda r: r["records"].reverse(), "not in the order of their seals"),
        (lambda r: r["records"].append(r["records"][-1]), "is in the file twice"),
        (lambda r: r["records"][0].update(canonical='{"b": 1, "a": 2}'), "not in the canonical form"),
        (lambda r: r["records"][0].update(canonical="[1]"), "not in the canonical form"),
        (lambda r: r["records"][0].update(canonical="1" * 5000), "not in the canonical form"),
        (lambda r: r["records"][0].update(canonical="[" * 200_000), "not in the canonical form"),
        (lambda r: r["records"][0].update(seal=None), "has no seal"),
        (lambda r: r["enrolments"][0].update(enrolled_on="yesterday"), r"enrolments\[0\]\.enrolled_on"),
        (lambda r: r["student"].update(reference="X" * 21), r"student\.reference"),
        (lambda r: r["student"].update(given_name="A\x00"), r"student\.given_name"),
        (lambda r: r.update(version=2), "version"),
        (lambda r: r.update(more=1), "unknown field"),
        (lambda r: r["records"][0].update(seal=2**60), r"records\[0\]\.seal"),
    ],
)
def test_what_is_not_sound_is_refused_with_its_path(
    foreign_record: bytes, change: Callable[[dict[str, Any]], None], sentence: str
) -> None:
    with pytest.raises(BadRecord, match=sentence):
        open_hand_over(reseal_package(foreign_record, change))


def test_a_package_with_the_work_of_minutes_is_a_sentence(
    cast: Cast, client: Client, foreign_record: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def enlarge(record: dict[str, Any]) -> None:
        for number in range(6):
            text = '{"a":' + "[" * 20 + "[]," * 600_000 + str(number) + "]" * 20 + "}"
            more = {
                "canonical": text,
                "fingerprint": text_fingerprint(text),
                "seal": None,
                "previous": "",
                "digest": "",
            }
            record["received"].append(record["records"][0] | more)

    # Less than any machine needs for it: a quick one read it whole within two.
    monkeypatch.setattr(preview, "PACKAGE_LIMITS", Limits(cpu_seconds=1, memory_megabytes=600))
    content = reseal_package(foreign_record, enlarge)
    assert len(content) < 2**20
    client.force_login(cast.frida)
    reply = client.post("/records/import/", {"kind": "hand_over", "file": io.BytesIO(content)})
    assert reply.status_code == 422
    assert "It takes more work to read than any file that belongs here" in reply.text
    assert PendingUpload.objects.count() == 0


def zip_members(members: list[tuple[str, bytes]], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as made:
        for name, content in members:
            made.writestr(name, content)
    return out.getvalue()


GOOD = [(archive.RECORD, b"{}"), (archive.CHECKSUMS, b"")]


# Two members of one name, as no writer makes them: the second is renamed in the finished zip.
DOUBLED = zip_members([("recerd.json", b"{}"), *GOOD]).replace(b"recerd", b"record")


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "not a zip file"),
        (b"PK\x03\x04" + b"\x00" * 50, "not a zip file"),
        (zip_members([]), "record.json is missing"),
        (zip_members([("../../etc/passwd", b"x"), *GOOD]), "does not belong"),
        (zip_members([("/record.json", b"x"), *GOOD]), "does not belong"),
        (zip_members([("a\\record.json", b"x"), *GOOD]), "does not belong"),
        (zip_members([("record.json/", b""), *GOOD]), "does not belong"),
        (zip_members([(f"file-{n}", b"") for n in range(2000)]), "holds 2000 files"),
        (DOUBLED, "each of its 8 once"),
        (
            zip_members([(archive.RECORD, b"0" * (130 * 2**20)), (archive.CHECKSUMS, b"")]),
            "unpacks to more than 120 MB",
        ),
        (zip_members(GOOD, zipfile.ZIP_BZIP2), "compressed in a way"),
        (zip_members(GOOD).replace(b"\x00\x00\x08\x00", b"\x01\x00\x08\x00"), "encrypted"),
        (zip_members(GOOD), "not listed in SHA256SUMS"),
        (b"P" * (archive.MAX_BYTES + 1), "larger than 30 MB"),
    ],
)
def test_an_unsafe_zip_is_refused(content: bytes, sentence: str) -> None:
    with pytest.raises(BadRecord, match=sentence):
        archive.open_archive(content)


def test_a_zip_that_lies_about_its_sizes_is_counted_while_it_unpacks() -> None:
    honest = zip_members([(archive.RECORD, b"0" * (130 * 2**20)), (archive.CHECKSUMS, b"")])
    lying = honest.replace((130 * 2**20).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    assert lying != honest
    with pytest.raises(BadRecord):
        archive.open_archive(lying)


def test_a_file_changed_after_it_was_given_out_is_refused(foreign_record: bytes) -> None:
    files = archive.open_archive(foreign_record)
    changed = files | {archive.LESSONS: files[archive.LESSONS] + b"another line"}
    with pytest.raises(BadRecord, match=r"lessons\.csv is not the file"):
        archive.open_archive(archive.pack_zip(changed))
    without = {name: content for name, content in files.items() if name != archive.LESSONS}
    with pytest.raises(BadRecord, match=r"lessons\.csv is listed"):
        archive.open_archive(archive.pack_zip(without))


FINAL = (
    "grading_receivedbatch", "grading_receivedrecord",
    "lessons_earliertraining", "lessons_creditdecision", "lessons_creditedunit",
)  # fmt: skip


def refusal(act: str) -> str:
    """What the database says to it; empty when it lets it be done."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # nothing is pending then that would refuse first
            cursor.execute(act)
    except DatabaseError as error:
        return str(error)
    return ""


def test_what_was_received_is_final_even_for_the_owner_of_the_tables(foreign_record: bytes, cast: Cast) -> None:
    import_record(cast, foreign_record, cast.dora)
    decide_credit(
        enrolment=cast.enrolment,
        units={cast.units[1]: "seen"},
        counted={},
        reason="none",
        by=cast.amelia,
        at=cast.at(20),
    )
    for table in FINAL:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT count(*) FROM {table}")
            assert cursor.fetchone()[0] > 0
        for act in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}", f"TRUNCATE {table} CASCADE"):
            assert "the record is final" in refusal(act), act


def test_who_gives_a_record_out_sees_what_the_other_school_compares(cast: Cast, client: Client) -> None:
    create_full_record(cast)
    client.force_login(cast.frida)
    content = client.post(f"/people/{cast.dora.pk}/transfer/").content
    first_line = archive.open_archive(content)[archive.SIGNATURE].split()[0]
    digest = hashlib.sha256(base64.b64decode(first_line)).hexdigest()
    assert SigningCertificate.objects.newest_first()[0].fingerprint == digest
    assert groups_of_four(digest) in client.get(f"/people/{cast.dora.pk}/earlier-training/").text


def test_the_preview_writes_nothing_and_offers_the_person_who_is_here(
    foreign_record: bytes, cast: Cast, client: Client
) -> None:
    client.force_login(cast.frida)
    kept = io.BytesIO(foreign_record)
    kept.name = "dora.zip"
    reply = client.post("/records/import/", {"kind": "hand_over", "file": kept})
    assert reply.status_code == 302
    counts = Person.objects.count(), Seal.objects.count()
    text = client.get(reply["Location"]).text
    assert "Dora Example, T-4, who is here: same name, date of birth and school number" in text
    # Of the file itself, by the library: two schools compare all of it.
    first_line = archive.open_archive(foreign_record)[archive.SIGNATURE].split()[0]
    digest = hashlib.sha256(base64.b64decode(first_line)).hexdigest()
    assert re.sub(r"\s", "", groups_of_four(digest)) == digest
    assert groups_of_four(digest) in text
    assert (Person.objects.count(), Seal.objects.count()) == counts
    assert not ReceivedRecord.objects.exists()
    # Nothing chosen rightly: what was typed is there again.
    wrong = {"whose": "new", "reference": "T-4", "username": "Dora"}
    refused = client.post(reply["Location"], wrong)
    assert refused.status_code == 422
    assert refused.text.count("is taken: choose another.") == 2
    assert 'value="T-4"' in refused.text
    done = client.post(reply["Location"], {"whose": str(cast.dora.pk)})
    assert done.status_code == 302
    assert not PendingUpload.objects.exists()
    page = client.get(done["Location"]).text
    assert "2 earlier lessons of Dora Example" in page
    assert client.post(reply["Location"], {"whose": str(cast.dora.pk)}).status_code == 404
    row = ReceivedRecord.objects.order_by("place").first()
    assert row is not None
    told = client.get(f"/received/{row.pk}/")
    assert hashlib.sha256(told.content).hexdigest() == row.fingerprint


def test_a_new_person_is_enrolled_with_it(foreign_record: bytes, cast: Cast, client: Client) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(reference="T-99", born=None)
    upload = create_upload(cast, foreign_record)
    client.force_login(cast.frida)
    page = f"/records/import/{upload.uid}/record/"
    assert "who is here" not in client.get(page).text
    new = {"whose": "new", "reference": "T-50", "username": "dora-two", "syllabus": cast.enrolment.syllabus_id}
    refused = client.post(page, new)
    assert refused.text.count("Required to enrol") == 3
    whole = new | {"aircraft_type": cast.type.pk, "instructor": cast.bert.pk, "on": str(cast.today)}
    assert client.post(page, whole).status_code == 302
    student = Person.objects.get(reference="T-50")
    assert student.roles == ["student"]
    assert EarlierTraining.objects.filter(student=student).count() == 3
    assert JournalEntry.objects.filter(what="enrolled", about_id=student.pk).exists()


def test_a_file_that_is_not_sound_is_not_kept(foreign_record: bytes, cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    files = archive.open_archive(foreign_record)
    broken = io.BytesIO(repack(files, files[archive.RECORD].replace(b"Dora", b"Dara")))
    broken.name = "dora.zip"
    reply = client.post("/records/import/", {"kind": "hand_over", "file": broken})
    assert reply.status_code == 422
    assert "its text does not give its fingerprint" in reply.text
    assert not PendingUpload.objects.exists()


def test_records_of_another_person_are_pointed_out(foreign_record: bytes, cast: Cast, client: Client) -> None:
    def renamed(record: dict[str, Any]) -> None:
        record["student"].update(given_name="Somebody", reference="T-400")

    upload = create_upload(cast, reseal_package(foreign_record, renamed))
    client.force_login(cast.frida)
    text = client.get(f"/records/import/{upload.uid}/record/").text
    assert "Check these first." in text
    assert "records[0] speaks of Dora Example, T-4." in text


def test_a_lesson_record_of_a_later_form_is_kept_and_not_guessed_at(foreign_record: bytes, cast: Cast) -> None:
    def later(record: dict[str, Any]) -> None:
        row = record["records"][0]
        row["canonical"] = row["canonical"].replace('"date":', '"day":')
        content = json.loads(row["canonical"])
        row["canonical"] = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)

    content = reseal_package(foreign_record, later)
    assert open_hand_over(content).unknown_lesson_count == 1
    batch = import_record(cast, content, cast.dora)
    assert batch.records.count() == 6
    assert EarlierTraining.objects.count() == 2


def test_the_written_record_reads_the_same(cast: Cast) -> None:
    create_full_record(cast)
    record = record_builder.build_record_file(cast.dora, cast.today, cast.at(20))
    assert decode_record(encode_record(record)) == record


def test_pictures_of_documents_go_with_the_record_and_are_listed_in_print(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    paper = school_actions.record_paper(
        person=cast.dora, kind="identity", issued=cast.today, by=cast.frida, at=cast.at(9)
    )
    kept, wrong, twice, newest = [
        attach(document=paper, file=CleanFile("image/png", content), by=cast.frida, at=cast.at(9))
        for content in (b"front", b"wrong", b"front", b"newest")
    ]
    withdraw_attachment(attachment=wrong, reason="Somebody else’s", by=cast.frida, at=cast.at(10))
    files = archive.open_archive(build_package(cast.dora, cast.today, cast.at(20)).content)
    assert {name: files[name] for name in files if name.startswith("document-")} == {
        kept.file_name: b"front", newest.file_name: b"newest"
    }  # fmt: skip
    [entry] = decode_record(files[archive.RECORD]).papers
    assert [row.file for row in entry.pictures] == [kept.file_name, kept.file_name, newest.file_name]
    assert "Pictures of the documents" in files[archive.README].decode()
    # What is too much stays at the school, and the file says so.
    monkeypatch.setattr(archive, "MAX_PICTURES", 1)
    files = archive.open_archive(build_package(cast.dora, cast.today, cast.at(20)).content)
    assert [name for name in files if name.startswith("document-")] == [newest.file_name]
    assert "2 more are at the school" in files[archive.README].decode()
    [printed] = build_complete_content(cast.enrolment, cast.today)["papers"]
    assert [(row["sha256"], row["withdrawn"]) for row in printed["pictures"]] == [
        (kept.sha256, ""), (wrong.sha256, "Somebody else’s"), (twice.sha256, ""), (newest.sha256, "")
    ]  # fmt: skip


@pytest.mark.parametrize("lessons", [1, 4])
def test_giving_out_takes_the_same_queries_for_any_number_of_lessons(
    cast: Cast, lessons: int, django_assert_num_queries: Any
) -> None:
    for day in range(lessons):
        fly_lesson(cast, days_ago=day)
    record_builder.build_record_file(cast.dora, cast.today, cast.at(20))  # what is published is read once a process
    with django_assert_num_queries(32):
        record_builder.build_record_file(cast.dora, cast.today, cast.at(20))


@pytest.mark.parametrize("who", ["dora", "amelia"])
@pytest.mark.parametrize("records", [1, 2])
def test_the_page_of_earlier_training_takes_the_same_queries(
    foreign_record: bytes, cast: Cast, client: Client, who: str, records: int, django_assert_num_queries: Any
) -> None:
    import_record(cast, foreign_record, cast.dora)
    if records == 2:
        for day in (1, 2):
            add_paper_record(cast, f"2020-03-0{day}")
    client.force_login(getattr(cast, who))
    page = f"/people/{cast.dora.pk}/earlier-training/"
    client.get(page)
    with django_assert_num_queries(17):
        assert client.get(page).status_code == 200


def add_paper_record(cast: Cast, day: str) -> None:
    text = f"School number,Date,Taught,Dual,Instructor,Where the paper is kept\nT-4,{day},Climbing,1.0,Old Hand,Box 3\n"
    upload = receiving.save_upload(
        kind="past_lessons", name="old.csv", content=text.encode(), by=cast.frida, at=cast.at(18)
    )
    import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(19))
