"""Write what no font has, or what must not be printed, as words: its Unicode name in brackets, not an empty box.

Only on the printed page. The sealed record, and the one attached to the sheet, keep the text itself.
"""

import unicodedata
from collections.abc import Collection

# Signs that turn the order of what follows them: in a name they could turn what the sheet says beside it.
BIDI_CONTROLS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
HTML_WHITESPACE = frozenset("\t\n\r\f ")  # as HTML reads it
# Controls, separators of lines within a line, and what has no meaning but by agreement.
UNPRINTABLE_CATEGORIES = frozenset({"Cc", "Zl", "Zp", "Co", "Cs"})


def spell_out_unprintable(html: str, missing_glyphs: Collection[str]) -> str:
    """Replace such characters; `missing_glyphs` are those that the installed fonts do not have."""
    # Each character is judged once: a sheet may be long and has few distinct characters.
    there = {char for char in set(html) if char in missing_glyphs or _is_unprintable(char)}
    return html.translate({ord(char): character_name(char) for char in there})


def character_name(char: str) -> str:
    """Return [AEROPLANE], or [U+E000] for a character without a name."""
    return f"[{unicodedata.name(char, f'U+{ord(char):04X}')}]"


def _is_unprintable(char: str) -> bool:
    # The whole page passes through here, so the characters of its markup must stay as they are.
    if char in HTML_WHITESPACE or "!" <= char <= "~":
        return False
    return char in BIDI_CONTROLS or unicodedata.category(char) in UNPRINTABLE_CATEGORIES
