"""Texts of every script reach the page and the printed sheet, and can be read out of the file again.

Read back with pypdf, a library apart from the one that prints. Where a line runs right to left, PDF readers give its
letters in the order of the page or in that of the text, so letters are compared and not their order.
"""

import io
import unicodedata

from django.test import Client
from pypdf import PdfReader

from grading.actions import sheets
from grading.models import Sheet
from lessons.models import Enrolment
from school.models import Person
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

REMARKS = {
    "emoji": "Held it well 🛩️ and smiled 🙂",
    "Arabic": "هبوط جيد",
    "Hebrew": "נחיתה טובה",
    "combining marks": "Zoë A\u030angstro\u0308m, Łukasz",
    "a very long word": "Donaudampfschifffahrt" * 12,
    "markup": "<b>bold</b> & {{ 7|add:1 }} %s",
}


def sorted_letters(text: str) -> list[str]:
    """Sorted, joined forms taken apart; marks and signs that a font draws as a picture are left out."""
    plain = unicodedata.normalize("NFKD", text)
    return sorted(char for char in plain if unicodedata.category(char)[0] == "L")


def test_texts_of_every_script_are_printed_and_can_be_read_back(cast: Cast, client: Client) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(given_name="دورا 🙂", family_name="O’Brien-Ångström " + "x" * 30)
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "\n".join(REMARKS.values())})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    client.force_login(cast.bert)
    page = client.get(f"/lessons/{lesson.uid}/").text
    for remark in (REMARKS["emoji"], REMARKS["Arabic"], REMARKS["Hebrew"], REMARKS["a very long word"]):
        assert remark in page
    assert "<b>bold</b>" not in page

    student = Enrolment.objects.get(pk=cast.enrolment.pk)
    made = sheets.print_sheet(
        kind=Sheet.Kind.COMPLETE, enrolment=student, on=cast.today, paper="A4", by=cast.frida, at=cast.at()
    )
    pages = [page.extract_text().replace("\0", "") for page in PdfReader(io.BytesIO(bytes(made.pdf))).pages]
    text = "".join(pages)
    printed = sorted_letters(text)
    for script, remark in REMARKS.items():
        missing = [
            char for char in set(sorted_letters(remark)) if printed.count(char) < sorted_letters(remark).count(char)
        ]
        assert missing == [], script
    assert "{{ 7|add:1 }} %s" in text
    # Longer than a line of the paper: it goes on in the next one and does not run over the edge.
    word = REMARKS["a very long word"]
    assert word not in text
    assert word in text.replace("\n", "")
