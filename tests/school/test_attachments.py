"""Pictures of documents: read in a process with limits, stripped of what the camera wrote, sealed by hash, withdrawn.

Read back with other libraries than the program uses: pikepdf and pypdf for PDF, hashlib for the hash. Where a camera
writes its place is by the Exif standard (JEITA CP-3451, tag 0x8825, from memory).
"""

import hashlib
import io
import struct
import zlib

import pikepdf
import pytest
from bs4 import BeautifulSoup
from django.db import DatabaseError, connection, transaction
from django.test import Client
from PIL import Image
from pypdf import PdfReader

from grading.evidence import register
from grading.evidence.audit.check import audit_records
from grading.exchange.personal_data import collect_personal_data
from grading.models import Seal
from school import actions as school_actions
from school import attachments
from school.attachments import CleanFile, attach, clean_file, withdraw_attachment
from school.errors import Refusal
from school.models import Attachment, JournalEntry, Paper
from school.pdf_reader import MAX_PDF_PAGES
from school.picture_reader import LONGEST_EDGE
from tests.cast import Cast
from tests.school.document_files import document, photograph, upload

SECRETS = (b"Secret place", b"Secret comment", b"Secret profile", b"Secret author", b"Secret title", b"Secret script")


def everything_in(pdf: bytes) -> bytes:
    """Every object of a PDF, unpacked."""
    with pikepdf.open(io.BytesIO(pdf)) as found:
        parts = [repr(found.trailer).encode()]
        for part in found.objects:
            stream = isinstance(part, pikepdf.Stream)
            parts.append(repr(part).encode())
            if stream:
                parts.append(part.read_raw_bytes() if "/DCTDecode" in repr(part) else part.read_bytes())
    return b"".join(parts)


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_a_picture_keeps_its_dots_upright_and_nothing_else(form: str) -> None:
    given = photograph(form=form)
    assert b"Secret place" in given
    found = clean_file(given + b"MZ hidden behind the picture")
    assert found.media_type == f"image/{form.lower()}"
    shown = Image.open(io.BytesIO(found.content))
    assert (shown.format, shown.size, dict(shown.getexif())) == (form, (480, 640), {})
    assert [word for word in (*SECRETS, b"hidden") if word in found.content] == []
    # The dark edge of the gradient was above, and is at the right once turned.
    assert shown.convert("L").getpixel((470, 320)) < 20 < 200 < shown.convert("L").getpixel((10, 320))


def test_a_large_picture_is_stored_at_the_size_that_is_needed() -> None:
    shown = Image.open(io.BytesIO(clean_file(photograph(6000, 4000)).content))
    assert (max(shown.size), min(shown.size)) == (LONGEST_EDGE, LONGEST_EDGE * 2 // 3)
    out = io.BytesIO()
    Image.effect_noise((1500, 1500), 90).convert("RGB").save(out, "PNG")
    assert len(out.getvalue()) > 2 * 2**20
    assert clean_file(out.getvalue()).media_type == "image/jpeg"
    # What is transparent is white, as the paper was.
    out = io.BytesIO()
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(out, "PNG")
    assert Image.open(io.BytesIO(clean_file(out.getvalue()).content)).getpixel((5, 5)) == (255, 255, 255)


def test_of_a_pdf_the_pages_stay_and_nothing_runs() -> None:
    given = document(pages=3)
    assert all(word in everything_in(given) for word in (b"Secret place", b"Secret title", b"Secret script"))
    found = clean_file(given)
    assert found.media_type == "application/pdf"
    inside = everything_in(found.content)
    assert [word for word in (*SECRETS, b"hidden", b"JavaScript", b"OpenAction") if word in inside] == []
    read = PdfReader(io.BytesIO(found.content))
    assert [tuple(page.mediabox) for page in read.pages] == [(0, 0, 200, 200)] * 3
    assert read.pages[0].images[0].image.size == (640, 480)


def bomb() -> bytes:
    """A PNG of a few kilobytes that says it has 40,000 by 40,000 dots, all of them packed zeros."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(2**20))) + chunk(b"IEND", b"")
    )


HOSTILE = {
    "another type": (b"GIF89a" + bytes(40), "neither a JPEG or PNG picture nor a PDF"),
    "a page of HTML": (b"<html><script>alert(1)</script>", "neither a JPEG or PNG picture nor a PDF"),
    "an SVG": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "neither a JPEG or PNG picture nor a PDF"),
    "nothing": (b"", "neither a JPEG or PNG picture nor a PDF"),
    "a bomb": (bomb(), "1600 million dots"),
    "a JPEG cut in the middle": (photograph()[:-3000], "The file ends before its end"),
    "a PNG cut in the middle": (photograph(form="PNG")[:900], "The file ends before its end"),
    "the beginning of a JPEG alone": (b"\xff\xd8\xff\xe0" + bytes(2000), "The file ends before its end"),
    "a PDF cut in the middle": (document()[:600], "The file ends before its end"),
    "a PDF with a password": (document(password="x"), "asks for a password"),
    "a PDF of a book": (document(pages=MAX_PDF_PAGES + 1), f"more than {MAX_PDF_PAGES} pages"),
    "a PDF too large": (b"%PDF-1.7\n" + bytes(6 * 2**20), "The PDF has 6 MB"),
}  # fmt: skip


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_file_is_refused_in_a_sentence(what: str) -> None:
    content, sentence = HOSTILE[what]
    with pytest.raises(Refusal, match=sentence) as refused:
        clean_file(content)
    assert str(refused.value).endswith("choose the file again.")


def test_a_document_is_recorded_with_its_picture_and_refused_with_what_was_typed(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    page = f"/records/{cast.enrolment.uid}/documents/"
    form = {"kind": "medical", "number": "M-77", "medical_class": "3", "issued": cast.today}
    refused = client.post(page, form | {"file": upload(b"GIF89a")})
    assert (refused.status_code, Paper.objects.filter(person=cast.dora).count()) == (422, 0)
    assert all(word in refused.text for word in ("neither a JPEG", "choose the file again", 'value="M-77"'))
    # Another field is wrong: the file is not read, and it is said that it must be chosen again.
    refused = client.post(page, form | {"medical_class": "", "file": upload(photograph())})
    assert (refused.status_code, "choose the file again" in refused.text) == (422, True)
    assert client.post(page, form | {"photo": upload(photograph())}).status_code == 302
    paper = Paper.objects.get(person=cast.dora)
    kept = paper.attachments.get()
    assert kept.sha256 == hashlib.sha256(bytes(kept.content)).hexdigest()
    assert (kept.size, kept.media_type, kept.recorded_by) == (len(bytes(kept.content)), "image/jpeg", cast.frida)
    assert "1 picture<" in client.get(f"/records/{cast.enrolment.uid}/").text

    # It is sent as what it is and as nothing that could run.
    reply = client.get(f"/attachments/{kept.uid}/")
    assert reply.content == bytes(kept.content)
    assert {name: reply[name] for name in (
        "Content-Type", "X-Content-Type-Options", "Cache-Control", "Content-Disposition",
    )} == {
        "Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff", "Cache-Control": "private, no-store",
        "Content-Disposition": f'inline; filename="document-{kept.sha256[:16]}.jpg"',
    }  # fmt: skip
    policy = reply["Content-Security-Policy"]
    assert {"default-src 'none'", "sandbox"} <= {part.strip() for part in policy.split(";")}

    # A second file, from the page of the document: a PDF is saved and not opened.
    own = f"/documents/{paper.pk}/"
    nothing = client.post(own, {})
    assert (nothing.status_code, "Choose a picture or a PDF" in nothing.text) == (422, True)
    assert client.post(own, {"file": upload(document())}).status_code == 302
    pdf = paper.attachments.latest("pk")
    assert client.get(f"/attachments/{pdf.uid}/")["Content-Disposition"].startswith("attachment; filename=")
    shown = BeautifulSoup(client.get(own).text, "html.parser")
    assert [image["src"] for image in shown.select("#pictures img")] == [f"/attachments/{kept.uid}/"]
    camera = shown.select_one("input[capture=environment]")
    assert (camera["accept"], camera["type"]) == ("image/jpeg,image/png", "file")
    client.force_login(cast.dora)
    assert "2 pictures." in client.get("/account/").text
    assert BeautifulSoup(client.get(own).text, "html.parser").select("main form") == []


def add_picture(cast: Cast, content: bytes = b"picture") -> Attachment:
    paper = school_actions.record_paper(
        person=cast.dora, kind="identity", issued=cast.today, by=cast.frida, at=cast.at(9)
    )
    return attach(document=paper, file=CleanFile("image/png", content), by=cast.frida, at=cast.at(9))


def test_it_is_sealed_by_hash_withdrawn_once_and_altered_by_nobody(cast: Cast, client: Client) -> None:
    register.open_register(cast.at(8))
    kept = add_picture(cast)
    register.catch_up(cast.at(14))
    sealed = Seal.objects.filter(kind="fact", canonical__contains='"fact":"attachment"').get()
    assert hashlib.sha256(b"picture").hexdigest() in sealed.canonical
    for change in ({"content": b"other"}, {"sha256": "0" * 64}, {"paper": None}):
        with pytest.raises(DatabaseError), transaction.atomic():
            Attachment.objects.filter(pk=kept.pk).update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        Attachment.objects.filter(pk=kept.pk).delete()

    client.force_login(cast.frida)
    own = f"/documents/{kept.paper_id}/"
    empty = client.post(own, {"withdraw": kept.uid, "reason": " "})
    assert (empty.status_code, "Write why this picture is withdrawn" in empty.text) == (422, True)
    assert client.post(own, {"withdraw": kept.uid, "reason": "Another person’s"}).status_code == 302
    again = client.post(own, {"withdraw": kept.uid, "reason": "Twice"})
    assert (again.status_code, "already withdrawn" in again.text) == (422, True)
    assert [client.post(own, {"withdraw": uid, "reason": "x"}).status_code for uid in ("x", cast.enrolment.uid)] == [
        404
    ] * 2
    assert client.get(f"/attachments/{kept.uid}/").status_code == 200
    for person in (cast.dora, cast.amelia):
        client.force_login(person)
        assert client.get(f"/attachments/{kept.uid}/").status_code == 404
    entries = JournalEntry.objects.filter(subject_kind="school.attachment").order_by("pk")
    assert [(row.what, row.about_id) for row in entries] == [
        ("attachment added", cast.dora.pk), ("attachment withdrawn", cast.dora.pk)
    ]  # fmt: skip
    register.catch_up(cast.at(15))
    assert [str(finding) for finding in audit_records().findings] == []
    # Who goes round every guard is found by the hash in the seal.
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE school_attachment DISABLE TRIGGER USER")
        cursor.execute("UPDATE school_attachment SET content = 'forged!', sha256 = encode(sha256('forged!'), 'hex')")
        cursor.execute("ALTER TABLE school_attachment ENABLE TRIGGER USER")
    assert any("sha256" in str(finding) for finding in audit_records().findings)


def test_a_void_document_a_stranger_and_a_thirteenth_picture_are_refused(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = add_picture(cast)
    file = CleanFile("image/png", b"x")
    with pytest.raises(Refusal, match="You may not add"):
        attach(document=kept.paper, file=file, by=cast.bert, at=cast.at(9))
    with pytest.raises(Refusal, match="You may not withdraw"):
        withdraw_attachment(attachment=kept, reason="x", by=cast.amelia, at=cast.at(9))
    monkeypatch.setattr(attachments, "MAX_ATTACHMENTS", 1)
    with pytest.raises(Refusal, match="1 pictures at most"):
        attach(document=kept.paper, file=file, by=cast.frida, at=cast.at(9))
    void = school_actions.void_paper(paper=kept.paper, reason="Wrong", by=cast.frida, at=cast.at(10))
    with pytest.raises(Refusal, match="This document is void"):
        attach(document=void, file=file, by=cast.frida, at=cast.at(11))


def test_the_person_gets_a_copy_with_all_else_that_is_stored(cast: Cast) -> None:
    kept = add_picture(cast)
    [row] = collect_personal_data(cast.dora, cast.at())["pictures_of_documents"]
    assert (row["sha256"], row["content_base64"]) == (kept.sha256, "cGljdHVyZQ==")
    assert collect_personal_data(cast.emil, cast.at())["pictures_of_documents"] == []
