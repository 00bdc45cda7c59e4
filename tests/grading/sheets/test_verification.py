"""Printed sheets: what kind of file they are, that they stay the same bytes, and that a forger is found and named.

Sources: ISO 19005-3:2012 (PDF/A-3), 6.6.4 identification, 6.2.3 output intent, 6.8 associated files, level A structure;
ETSI EN 319 142-1 (PAdES), subfilter ETSI.CAdES.detached; RFC 8785; FIPS 180-4: paragraph numbers from memory. The file
is read back by pikepdf, pypdf and pyHanko. No validator of PDF/A was within reach.
"""

import hashlib
import io
import json
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import rfc8785
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from pypdf import PdfReader

from grading.actions import decisions, sheets
from grading.evidence.chain import head, link_digest
from grading.evidence.signed_head import chain_head_bytes, is_head_signature_valid
from grading.exchange.handover import record_builder
from grading.models import Seal, Sheet
from grading.sheets import verification
from grading.sheets.verification import Authenticity, find_by_fingerprint, verify
from lessons.models import EarlierTraining
from school.models import SigningCertificate
from school.signing_keys import is_valid_signature
from tests import hostile_files
from tests.cast import Cast
from tests.database_guards import guards_off
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.grading.sheets import forgeries
from tests.shared_state import shared_state


@shared_state
def sheet(cast: Cast) -> Sheet:
    fly_lesson(cast, circuits=2)
    return print_sheet(cast)


def print_sheet(cast: Cast, kind: Sheet.Kind = Sheet.Kind.PROGRESS, paper: str = "A4") -> Sheet:
    return sheets.print_sheet(
        kind=kind, enrolment=cast.enrolment, on=cast.today, paper=paper, by=cast.frida, at=cast.at(20)
    )


@pytest.mark.parametrize("kind", [Sheet.Kind.PROGRESS, Sheet.Kind.COMPLETE])
def test_the_file_is_an_archive_copy_with_its_record(cast: Cast, kind: Sheet.Kind) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "0.9", "lesson.remarks": "Flared high; 😀 שלום"})
    record_circuit(cast, lesson, 1, "practice", **{"landing.fault.bounced": "on", "landing.help": "prompted"})
    sign_lesson(cast, lesson)
    made = print_sheet(cast, kind)
    with pikepdf.open(io.BytesIO(made.pdf)) as opened, opened.open_metadata() as metadata:
        root = opened.Root
        assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("3", "A")
        assert "Dora Example" in metadata["dc:title"]
        assert root.OutputIntents[0].S == "/GTS_PDFA1"
        assert root.MarkInfo.Marked
        assert "/K" in root.StructTreeRoot
        assert (opened.pdf_version, root.get("/Version", "/1.7")) == ("1.7", "/1.7")  # ISO 19005-3, 6.1.2
        assert str(root.Lang) == "en-GB"
        attached = opened.attachments["record.json"]
        assert attached.get_file().mime_type == "application/json"
        assert attached.obj.AFRelationship == "/Data"
        record = attached.get_file().read_bytes()
        (field,) = root.AcroForm.Fields
        assert field.V.SubFilter == "/ETSI.CAdES.detached"
        assert [round(float(side)) for side in opened.pages[0].mediabox] == [0, 0, 595, 842]
    assert record == rfc8785.dumps(json.loads(record)) == rfc8785.dumps(made.content)
    reader = PdfReader(io.BytesIO(made.pdf))
    text = " ".join(page.extract_text() for page in reader.pages)
    assert hashlib.sha256(record).hexdigest() in text.replace(" ", "").replace("\n", "")
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            (inner,) = font.get_object()["/DescendantFonts"]
            assert {"/FontFile2", "/FontFile3"} & inner.get_object()["/FontDescriptor"].get_object().keys()


def test_letter_paper_is_letter(cast: Cast) -> None:
    with pikepdf.open(io.BytesIO(print_sheet(cast, paper="Letter").pdf)) as opened:
        assert [round(float(side)) for side in opened.pages[0].mediabox] == [0, 0, 612, 792]


def test_the_complete_record_says_every_signed_thing_word_for_word(cast: Cast) -> None:
    first = fly_lesson(cast, circuits=2)
    made = print_sheet(cast, Sheet.Kind.COMPLETE)
    (lesson,) = made.content["lessons"]
    seal = Seal.objects.get(subject=first.uid)
    sealed = {key: lesson[key] for key in json.loads(seal.canonical)}
    assert rfc8785.dumps(sealed).decode() == seal.canonical
    assert (lesson["seal"], lesson["digest"], lesson["counts"]) == (seal.number, seal.digest, True)
    assert link_digest(lesson["previous"], rfc8785.dumps(sealed).decode()) == lesson["digest"]
    assert made.content["totals"]["dual_minutes"] == 60


def test_earlier_training_and_what_was_set_aside_are_in_the_record(cast: Cast) -> None:
    decisions.set_aside_requirement(
        enrolment=cast.enrolment, requirement="go_around", reason="Shown elsewhere", by=cast.amelia, at=cast.at(9)
    )
    EarlierTraining.objects.create(
        student=cast.dora, batch=uuid.uuid4(), fingerprint="2" * 64, on=cast.today, unit="Turns", instructor="Nobody",
        school="Elsewhere", dual_minutes=90, recorded_at=cast.at(8), recorded_by=cast.frida,
    )  # fmt: skip
    made = print_sheet(cast, Sheet.Kind.COMPLETE)
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(made.pdf)).pages)
    assert "Training brought forward" in text
    assert "Elsewhere" in text
    assert "Shown elsewhere" in text
    kinds = {seal.kind for seal in record_builder.seals_about(cast.dora, [cast.enrolment])}
    assert Seal.Kind.SET_ASIDE in kinds


def test_the_head_of_the_chain_is_signed_and_stands_on_the_sheet(sheet: Sheet) -> None:
    printed = sheet.content["head"]
    last_but_this = Seal.objects.get(number=head().number - 1)
    assert (printed["number"], printed["digest"]) == (last_but_this.number, last_but_this.digest)
    assert is_head_signature_valid(printed)
    pem = SigningCertificate.objects.get(fingerprint=printed["certificate"]).pem
    assert is_valid_signature(chain_head_bytes(printed), printed["signature"], pem)
    assert not is_valid_signature(chain_head_bytes(printed | {"number": 99}), printed["signature"], pem)
    assert not is_head_signature_valid(printed | {"digest": "0" * 64})


def test_a_stored_sheet_is_served_as_the_same_bytes(cast: Cast, sheet: Sheet, client: Client) -> None:
    client.force_login(cast.dora)
    first, second = client.get(f"/sheets/{sheet.uid}.pdf"), client.get(f"/sheets/{sheet.uid}.pdf")
    assert first.content == second.content == bytes(sheet.pdf)
    again = client.get(f"/sheets/{sheet.uid}.pdf", headers={"If-None-Match": first.headers["ETag"]})
    assert again.status_code == 304


def test_a_genuine_sheet_is_called_so(cast: Cast, sheet: Sheet, tmp_path: Path, capsys: Any, client: Client) -> None:
    assert verify(bytes(sheet.pdf)).answer is Authenticity.GENUINE
    file = tmp_path / "sheet.pdf"
    file.write_bytes(sheet.pdf)
    call_command("verify_sheet", str(file))
    assert capsys.readouterr().out.startswith("genuine and unaltered")
    said = client.post("/check/", {"file": SimpleUploadedFile("sheet.pdf", bytes(sheet.pdf), "application/pdf")}).text
    assert "This sheet is genuine and unaltered." in said
    assert "Dora" not in said


FORGERIES: dict[str, tuple[Callable[[bytes, Path], bytes], Authenticity, str]] = {
    "the attached record is another": (
        lambda pdf, _: forgeries.rewrite(pdf, forgeries.change_student_name),
        Authenticity.ALTERED,
        "The attached record is not the one that was sealed.",
    ),
    "the page shows something else": (
        lambda pdf, _: forgeries.rewrite(pdf, forgeries.paint_over_text),
        Authenticity.ALTERED,
        "The signature is broken",
    ),
    "the signature is taken out": (
        lambda pdf, _: forgeries.rewrite(pdf, forgeries.remove_signature),
        Authenticity.ALTERED,
        "The school's signature is missing.",
    ),
    "one bit is flipped": (lambda pdf, _: forgeries.flip_byte(pdf), Authenticity.ALTERED, "The signature is broken"),
    "something is added at the end": (
        lambda pdf, _: pdf + b"\n% added\n",
        Authenticity.ALTERED,
        "Something was added after signing.",
    ),
    "signed again by a stranger of the same name": (
        lambda pdf, folder: forgeries.sign_again(pdf, forgeries.make_stranger_key(folder, like_ours=True)),
        Authenticity.NOT_OURS,
        "with a certificate that is not one of this school",
    ),
    "changed and signed again by a stranger": (
        lambda pdf, folder: forgeries.sign_again(
            pdf, forgeries.make_stranger_key(folder, like_ours=True), forgeries.change_student_name
        ),
        Authenticity.NOT_OURS,
        "The attached record is not the one that was sealed.",
    ),
    "not a PDF at all": (lambda pdf, _: b"GIF89a" * 50, Authenticity.NOT_OURS, "not a PDF file that can be read"),
    "a PDF of somebody else": (
        lambda pdf, _: forgeries.rewrite(pdf, lambda opened: opened.attachments.__delitem__("record.json")),
        Authenticity.NOT_OURS,
        "No record is attached to it.",
    ),
}


@pytest.mark.parametrize("name", FORGERIES)
def test_a_forgery_is_found_and_named(sheet: Sheet, tmp_path: Path, name: str) -> None:
    forge, answer, why = FORGERIES[name]
    found = verify(forge(bytes(sheet.pdf), tmp_path))
    assert found.answer is answer, found
    assert any(why in sentence for sentence in found.why), found.why
    file = tmp_path / "forged.pdf"
    file.write_bytes(forge(bytes(sheet.pdf), tmp_path / "again"))
    with pytest.raises(SystemExit):
        call_command("verify_sheet", str(file))


def test_the_owner_of_the_tables_who_swaps_two_files_is_found(cast: Cast, sheet: Sheet) -> None:
    other = print_sheet(cast)
    with guards_off():
        Sheet.objects.filter(pk=sheet.pk).update(pdf=other.pdf, digest=other.digest)
        Sheet.objects.filter(pk=other.pk).update(pdf=sheet.pdf, digest=sheet.digest)
    found = verify(bytes(sheet.pdf))
    assert found.answer is Authenticity.ALTERED
    assert any("was set over another file" in sentence for sentence in found.why)


def test_a_record_that_was_altered_beside_its_file_is_found(sheet: Sheet) -> None:
    with guards_off():
        Sheet.objects.filter(pk=sheet.pk).update(content=sheet.content | {"number": 99})
    found = verify(bytes(sheet.pdf))
    assert found.answer is Authenticity.ALTERED
    assert any("was set over another record" in sentence for sentence in found.why)


def test_a_stored_sheet_is_known_without_being_read(
    sheet: Sheet, client: Client, monkeypatch: pytest.MonkeyPatch, django_assert_num_queries: Any
) -> None:
    def read_file(*given: Any, **options: Any) -> None:
        raise AssertionError("a stored sheet was read")

    monkeypatch.setattr(verification, "read_file", read_file)
    with django_assert_num_queries(2):
        assert verify(bytes(sheet.pdf)).answer is Authenticity.GENUINE
    reply = client.post("/check/", {"file": SimpleUploadedFile("sheet.pdf", bytes(sheet.pdf), "application/pdf")})
    assert "This sheet is genuine and unaltered." in reply.text
    with pytest.raises(AssertionError):
        verify(bytes(sheet.pdf) + b" ")


@pytest.mark.parametrize(
    ("content", "sentence"),
    [(hostile_files.long_list(), "more work to read"), (hostile_files.deep_list(), "not a PDF file that can be read")],
)
def test_a_hostile_file_is_answered_with_a_sentence(cast: Cast, client: Client, content: bytes, sentence: str) -> None:
    reply = client.post("/check/", {"file": SimpleUploadedFile("sheet.pdf", content, "application/pdf")})
    assert reply.status_code == 200
    assert "This is not a sheet of this school." in reply.text
    assert sentence in reply.text


def test_a_fingerprint_is_looked_up_without_names(sheet: Sheet, client: Client) -> None:
    fingerprint = json.loads(Seal.objects.get(subject=sheet.uid).canonical)["fingerprint"]
    spaced = " ".join(fingerprint[place : place + 4] for place in range(0, 64, 4)).upper()
    assert find_by_fingerprint(spaced) == sheet
    text = client.get("/check/", {"fingerprint": spaced}).text
    assert "A sheet with this fingerprint was printed here." in text
    assert "Dora" not in text
    assert "No sheet of this school has this fingerprint" in client.get(f"/check/{'0' * 64}/").text
    assert "No sheet of this school" in client.get("/check/", {"fingerprint": "%_'\"<"}).text


def test_a_student_prints_their_own_complete_record_and_nothing_else(cast: Cast, client: Client) -> None:
    page = f"/records/{cast.enrolment.uid}/sheets/"
    client.force_login(cast.dora)
    assert client.post(page, {"kind": "progress", "paper": "A4"}).status_code == 403
    made = client.post(page, {"kind": "complete", "paper": "A4"})
    assert made.status_code == 302
    assert client.get(made.headers["Location"]).headers["Content-Type"] == "application/pdf"
    client.force_login(cast.emil)
    assert client.post(page, {"kind": "complete", "paper": "A4"}).status_code == 404


def test_a_server_without_a_key_prints_nothing(cast: Cast, settings: Any, client: Client) -> None:
    settings.SIGNING_KEY_FILE, settings.ON_THIS_MACHINE = "/nonexistent/key.pem", False
    client.force_login(cast.frida)
    reply = client.post(f"/records/{cast.enrolment.uid}/sheets/", {"kind": "progress", "paper": "A4"})
    assert reply.status_code == 422
    assert "has no key to sign with, so nothing can be printed" in reply.text
    assert Sheet.objects.count() == 0
