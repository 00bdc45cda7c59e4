"""What a forger does to a printed file."""

import io
import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pikepdf
from django.utils import timezone

from grading.sheets import pades
from school import signing_keys


def rewrite(pdf: bytes, change: Any) -> bytes:
    """The file taken apart, changed and written anew."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        change(opened)
        opened.save(out)
    return out.getvalue()


def change_student_name(opened: pikepdf.Pdf) -> None:
    record = json.loads(opened.attachments["record.json"].get_file().read_bytes())
    record["student"]["name"] = "Somebody Else"
    text = json.dumps(record, separators=(",", ":"), sort_keys=True).encode()
    opened.attachments["record.json"] = pikepdf.AttachedFileSpec(opened, text, filename="record.json")


def paint_over_text(opened: pikepdf.Pdf) -> None:
    opened.pages[0].contents_add(b" q 0 0 0 rg 72 700 60 12 re f Q ")


def remove_signature(opened: pikepdf.Pdf) -> None:
    del opened.Root.AcroForm
    for page in opened.pages:
        if "/Annots" in page:
            del page.Annots


def flip_byte(pdf: bytes) -> bytes:
    place = pdf.index(b"stream") + 40
    return pdf[:place] + bytes([pdf[place] ^ 1]) + pdf[place + 1 :]


def make_stranger_key(folder: Path, like_ours: bool) -> signing_keys.SchoolKey:
    """A key of a stranger; its certificate bears the same names as the school's when asked for."""
    path = folder / "stranger.pem"
    signing_keys._make_demonstration_key(path, timezone.now() - timedelta(hours=1))
    made = signing_keys._read_key_file(path, 1)
    assert like_ours == made.demonstration
    return made


def sign_again(pdf: bytes, key: signing_keys.SchoolKey, change: Any = None) -> bytes:
    """Without the school's signature, changed, and signed with another key."""

    def strip(opened: pikepdf.Pdf) -> None:
        remove_signature(opened)
        if change:
            change(opened)

    return pades.sign_pdf(rewrite(pdf, strip), key, school="The same school", at=timezone.now())
