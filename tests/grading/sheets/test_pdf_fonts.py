"""Which font draws what on a sheet, and what stands there where none does. Read with pypdf, apart from what prints."""

import io
import struct
from typing import Any

import pikepdf
import pytest
from django.utils import timezone
from fontTools.ttLib import TTFont
from pypdf import PdfReader

from grading.sheets import pdf
from grading.sheets.unprintable import character_name, spell_out_unprintable

# Text, and the font of Debian that draws it.
SAMPLES = {
    "emoji": ("🛩 🙂 👍 🛬 ✈", "Symbola"),
    "Arabic": ("هبوط جيد", "Noto-Sans-Arabic"),
    "Hebrew": ("נחיתה טובה", "Noto-Sans-Hebrew"),
    "Devanagari": ("देवनागरी", "Noto-Sans-Devanagari"),
    "Thai": ("สวัสดี", "Noto-Sans-Thai"),
    "Chinese and Japanese": ("漢字かなカナ", "Droid-Sans-Fallback"),
    "Korean": ("한국어", "NanumGothic"),
    "Greek and Cyrillic": ("Ωμέγα Щука", "Noto-Sans"),
    "Latin": ("plain", "Atkinson-Hyperlegible-Next"),
}
# Younger than the fonts; not assigned; for private use; a control.
NOWHERE = "\U0001f973\U0001fae8\u0378\ue000\x07"


def sheet_html(*texts: str) -> str:
    return "<html lang='en-GB'><title>x</title><body>" + "".join(f"<p>{text}</p>" for text in texts)


def print_texts(*texts: str) -> bytes:
    return pdf.render_pdf(sheet_html(*texts), b"{}", timezone.now())


def printed_words(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def embedded_fonts(pdf: bytes) -> dict[str, Any]:
    return {
        str(font.get_object()["/BaseFont"]).split("+")[1]: font.get_object()
        for page in PdfReader(io.BytesIO(pdf)).pages
        for font in page["/Resources"]["/Font"].values()
    }


def empty_boxes(pdf: bytes) -> int:
    """Glyphs that are drawn and not in their font, or are its box for what it does not have."""
    found = 0
    with pikepdf.open(io.BytesIO(pdf)) as read:
        for page in read.pages:
            glyphs, fonts = 0, page.Resources.Font
            for operands, operator in pikepdf.parse_content_stream(page):
                if str(operator) == "Tf":
                    glyphs = _glyphs_in(fonts[str(operands[0])])
                elif str(operator) in ("Tj", "TJ"):
                    pieces = operands[0] if str(operator) == "TJ" else operands
                    codes = b"".join(bytes(piece) for piece in pieces if isinstance(piece, pikepdf.String))
                    found += sum(not 0 < code < glyphs for (code,) in struct.iter_unpack(">H", codes))
    return found


def _glyphs_in(font: Any) -> int:
    held = font.DescendantFonts[0].FontDescriptor
    program = held.FontFile3 if "/FontFile3" in held else held.FontFile2
    return int(TTFont(io.BytesIO(program.read_bytes()))["maxp"].numGlyphs)


@pytest.mark.parametrize("script", list(SAMPLES))
def test_a_script_is_drawn_by_its_font_which_is_embedded_and_can_be_read_back(script: str) -> None:
    text, font = SAMPLES[script]
    read = print_texts(text)
    used = embedded_fonts(read)
    assert any(name.startswith(font) for name in used), list(used)
    for name, held in used.items():
        child = held["/DescendantFonts"][0].get_object()
        assert any(key.startswith("/FontFile") for key in child["/FontDescriptor"].get_object()), name
        assert "/ToUnicode" in held, name
    assert set(printed_words(read)) - {"\n"} == set(text) | set("Page 1 of 1")
    assert empty_boxes(read) == 0


def test_what_no_font_draws_stands_there_by_its_name() -> None:
    read = print_texts(f"before {NOWHERE} after")
    said = printed_words(read).replace("\n", "")
    assert "[FACE WITH PARTY HORN AND PARTY HAT][U+1FAE8][U+0378][U+E000][U+0007] after" in said.replace("] [", "][")
    assert empty_boxes(read) == 0


def test_an_empty_box_would_be_seen_by_these_tests() -> None:
    """The same without the words."""
    printed, missing_glyphs = pdf._write_pdf(sheet_html(f"a {NOWHERE}"), b"{}", timezone.now())
    assert missing_glyphs == set(NOWHERE)
    assert empty_boxes(printed) == len(NOWHERE)


def test_what_turns_the_order_of_the_line_is_spelled_out() -> None:
    """In a name it could make the sheet say something else of its neighbour."""
    said = printed_words(print_texts("Dora \u202eelbani ton\u202c"))
    assert "[RIGHT-TO-LEFT OVERRIDE]elbani ton[POP DIRECTIONAL FORMATTING]" in said.replace("\n", "")


def test_what_is_plain_stays_as_it_is() -> None:
    html = "<p>Zoë A\u030angstro\u0308m, “quoted” – 12 °C\t\u00a0\u200d\ufe0f</p>\n"
    assert spell_out_unprintable(html, ()) is html or spell_out_unprintable(html, ()) == html
    assert spell_out_unprintable("a🥳", {"🥳"}) == "a[FACE WITH PARTY HORN AND PARTY HAT]"
    assert character_name("\ue000") == "[U+E000]"


def test_a_name_that_was_met_is_spelled_at_the_first_try_from_then_on(monkeypatch: pytest.MonkeyPatch) -> None:
    tries: list[str] = []
    write = pdf._write_pdf
    monkeypatch.setattr(pdf, "MISSING_GLYPHS", set())
    monkeypatch.setattr(pdf, "_write_pdf", lambda html, *more: tries.append(html) or write(html, *more))
    for _ in range(2):
        print_texts(NOWHERE)
    assert len(tries) == 3  # once in vain
