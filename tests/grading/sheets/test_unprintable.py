"""Whatever a person types is printed: as itself, or by its name where no font draws it. One sheet holds many texts."""

import io
import unicodedata
from collections import Counter

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from grading.actions import sheets
from grading.models import Sheet
from grading.sheets import pdf
from lessons.models import Enrolment, Lesson
from school.models import Person
from tests.cast import Cast
from tests.factories import begin_lesson, record_circuit, record_entries, sign_lesson

# Every category but surrogates; NUL is refused at the door (tests/project/test_typed_text.py).
ANY = st.characters(exclude_categories=["Cs"], exclude_characters="\0")
TEXTS = st.lists(st.text(ANY, min_size=1, max_size=20), min_size=10, max_size=20)
HARD = [
    "e\u0301e", "A\u030angstro\u0308m", "🥳🙂👨\u200d👩\u200d👧🇳🇴", "\u202edlot\u202c", "नमस्ते", "ffi ﬁ ĳ", "\ufdfa",
    "\u2028\x85\x0b",
    "한국어 각", "שָׁלוֹם", "مَرْحَبًا", "\U000e0041\ufffe\U0010ffff", "<b>&amp;</b>", "a" * 200,
]  # fmt: skip


TURNING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


def as_printed(text: str) -> str:
    return "".join(char if is_printable(char) else f"[{unicodedata.name(char, f'U+{ord(char):04X}')}]" for char in text)


def is_printable(char: str) -> bool:
    if char in pdf.MISSING_GLYPHS or unicodedata.bidirectional(char) in TURNING:
        return False
    return char in "\t\n\r\f" or unicodedata.category(char) not in ("Cc", "Co", "Zl", "Zp")


def count_letters(text: str) -> Counter[str]:
    """What a reader would miss if it were gone: letters, digits, signs; joined forms taken apart."""
    plain = unicodedata.normalize("NFKD", text)
    return Counter(char for char in plain if unicodedata.category(char)[0] in "LNPS")


@given(texts=TEXTS, name=st.text(ANY, min_size=1, max_size=60))
@example(texts=HARD, name="דורה 🥳 e\u0301")
@settings(max_examples=1, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
def test_any_text_is_printed_and_read_back(cast: Cast, texts: list[str], name: str) -> None:
    Person.objects.filter(pk=cast.dora.pk).update(given_name=name)
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0", "lesson.remarks": "\n".join(texts)[:3000]})
    record_circuit(cast, lesson, 1)
    sign_lesson(cast, lesson)
    student = Enrolment.objects.get(pk=cast.enrolment.pk)
    made = sheets.print_sheet(
        kind=Sheet.Kind.COMPLETE, enrolment=student, on=cast.today, paper="A4", by=cast.frida, at=cast.at(13)
    )
    read = Counter("".join(page_letters(page) for page in PdfReader(io.BytesIO(bytes(made.pdf))).pages))
    kept = Lesson.objects.get(pk=lesson.pk).remarks
    missing = count_letters(as_printed(kept + name)) - read
    assert not missing, {f"U+{ord(char):04X}": count for char, count in missing.items()}


def page_letters(page: object) -> str:
    return "".join(count_letters(page.extract_text()).elements())  # type: ignore[attr-defined]
