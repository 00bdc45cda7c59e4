"""One word for one thing in everything that is shown: a word that was given up does not come back."""

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from django.conf import settings

from school.journal_words import ACTS_IN_WORDS
from tests.shown_words import Shown, read_data, read_modules, read_scripts, read_templates

ROOT: Path = settings.BASE_DIR


class OldWord(NamedTuple):
    """Name what is not said, by a pattern, with a sentence that it finds and with what is said instead."""

    pattern: str
    found_in: str
    say: str


OLD_WORDS = (
    OldWord(r"put(ting|s)? (\w+ ){0,3}on record", "Put a paper on record", "save, add or record"),
    OldWord(r"\bpapers\b|(\b(a|no|each|some|this|add|void|own) |^)paper\b(?! lies)", "Papers", "document"),
    OldWord(r"\b(a|the|that|send|change for) letters?\b(?! size)", "A letter comes with a link", "e-mail"),
    OldWord(r"\bletters (go|of the school|are|come|to)\b", "Letters go to this address", "e-mails"),
    OldWord(r"\bemails?\b", "Your email address", "e-mail"),
    OldWord(r"\b(runs?|ran|running) out\b", "What runs out", "expires"),
    OldWord(r"\blapse[sd]?\b", "The medical has lapsed", "expired"),
    OldWord(r"\btak(e|es|en|ing)[ -]over\b|\btook over\b|\btake-?overs?\b", "No taking over", "took control"),
    OldWord(r"\(needed\)|\bneeded[:.]|, needed\b|\bcompulsory\b|must be graded", "(needed)", "required"),
    OldWord(r"\brecords administrator\b", "Ask the records administrator", "administrator"),
    OldWord(r"(aircraft|type)[’']s handbook|\b(the|its) handbook\b", "the aircraft’s handbook", "flight manual"),
    OldWord(r"\bhand(s|ed|ing)?[ -](\w+ )?over\b|\bhandover\b", "Hand over", "reassign, transfer"),
    OldWord(r"\b(give|gives|given|gave|giving) (\w+ )?(\w+ )?out\b", "Give the record out", "transfer"),
    OldWord(r"\btak(e|es|en|ing) (it |them |this |a file |a syllabus |the people )?in\b(?! (the|this|part))",
            "Take in a file", "import"),
    OldWord(r"\bown instructor\b", "The own instructor", "assigned instructor"),
    OldWord(r"where (I|you) stand\b", "Where I stand", "my progress"),
    OldWord(r"access (is |was )?(given|taken|back)\b|\b(take|give) the access\b", "Give the access back", "restore"),
    OldWord(r"\bstands?\b|\bstood\b", "What stands of Ruth", "is, shows, says"),
    OldWord(r"\bmend(s|ed|ing)?\b", "Who mends it", "correct"),
    OldWord(r"\bwho(m|se)?ever\b", "whoever holds a sheet", "anyone who"),
    OldWord(r"\banew\b", "judged anew", "again"),
    OldWord(r"\bof it\b", "Of it at night", "included"),
    OldWord(r"\b(so|as) many (attempts|lessons|of)\b", "Over at least so many lessons", "a number"),
    OldWord(r"\bit may be\b", "It may be that", "perhaps"),
    OldWord(r"\ball the same\b", "Flown all the same", "anyway"),
    OldWord(r"\btelephones?\b", "the program on your telephone", "phone"),
    OldWord(r"\bis like (that|this)\b|\bnothing is like\b", "Nobody is like that", "no student matches"),
    OldWord(r"\bbelong together\b", "Name and password do not belong together", "do not match"),
    OldWord(r"\bback without it\b", "Back without it", "cancel"),
    OldWord(r"\bis it you\b", "Is it you at this device?", "confirm it is you"),
    OldWord(r"\byours to do\b", "This is not yours to do", "you may not do this"),
    OldWord(r"\bas the rule says\b|\bdecide it so\b", "Decide it so", "record this decision"),
    OldWord(r"\bkeep (this\b(?! (on|open))|runway\b)|\b(settings|roles) are kept\b", "Keep this", "save"),
    OldWord(r"\bclean (attempt|of)\b|\d clean\b|… clean\b", "1 clean attempt missing", "without the fault"),
    OldWord(r"\bsomething failed\b|\bsent once more\b", "Something failed here", "an error occurred"),
    OldWord(r"\b(too many )?tries\b(?! to)", "Too many tries", "attempts"),
    OldWord(r"\b(page|week) (before|after)\b|\b(before|after) these$", "Students before these", "previous, next"),
    OldWord(r"\bshall\b", "if limits shall change", "are to, must"),
    OldWord(r"\bno permission\b", "It is no permission to fly", "not a permission"),
    OldWord(r"\bpresent (address|password)\b", "Present password", "current"),
    OldWord(r"\bgoes before\b|\bcomes before every\b", "It comes before every number", "takes precedence"),
    OldWord(r"\btells?\.|\bis told$", "who was flying, no track tells.", "shows"),
    OldWord(r"\btake \S+ in$|^take …", "Take … in", "import"),
)  # fmt: skip

# Acts of the journal are shown by school/journal_words.py; the others are names of classes and of a hidden column.
KEYS = {*ACTS_IN_WORDS, "Paper", "PaperFact", "why the tapped level stands"}
# The size of a sheet, and what a backup or a lesson from elsewhere was written on.
PAPER_IS_MEANT = re.compile(r"paper for printing|on paper|from paper|printed paper", re.IGNORECASE)


def reads_like_words(shown: Shown) -> bool:
    """Return whether a text of code or data is no key: it has a space in it, or a capital at its beginning."""
    return shown.text not in KEYS and bool(re.search(r"\w .*\w|^[A-Z][a-z]", shown.text))


def old_words_in(texts: Iterable[Shown]) -> Iterator[str]:
    for shown in texts:
        text = PAPER_IS_MEANT.sub("", shown.text)
        for word in OLD_WORDS:
            if found := re.search(word.pattern, text, re.IGNORECASE):
                where = f"{shown.file.relative_to(ROOT)}:{shown.line}"
                yield f"{where}: {found[0]!r} in {shown.text!r}; say: {word.say}"


@pytest.mark.parametrize("word", OLD_WORDS, ids=lambda word: word.found_in)
def test_an_old_word_is_found(word: OldWord) -> None:
    assert [*old_words_in([Shown(ROOT / "page.html", 1, word.found_in)])]


def test_templates_say_no_old_word() -> None:
    texts = [*read_templates(ROOT / "templates")]
    assert len(texts) > 1500
    assert [*old_words_in(texts)] == []


@pytest.mark.parametrize("app", ["school", "lessons", "grading"])
def test_modules_say_no_old_word(app: str) -> None:
    texts = [*filter(reads_like_words, read_modules(ROOT / app))]
    assert len(texts) > 200
    assert [*old_words_in(texts)] == []


def test_scripts_say_no_old_word() -> None:
    texts = [shown for app in ("school", "grading") for shown in read_scripts(ROOT / app)]
    assert len(texts) > 200
    assert [*old_words_in(texts)] == []


def test_data_says_no_old_word() -> None:
    texts = [*filter(reads_like_words, read_data(ROOT / "fixtures"))]
    assert len(texts) > 600
    assert [*old_words_in(texts)] == []
