"""What the journal calls an act, where its stored name uses a word that is not used elsewhere.

The stored name is a key: entries are sealed with it, and the check of the records compares it.
"""

ACTS_IN_WORDS = {
    "access given back": "access restored",
    "access taken away": "access revoked",
    "file taken in": "file imported",
    "instructor changed": "student reassigned",
    "paper recorded": "document added",
    "paper voided": "document voided",
    "password set anew by letter": "password reset by e-mail",
    "record handed over": "record transferred",
    "requirement asked for again": "requirement reinstated",
    "syllabus taken in": "syllabus imported",
    "tap taken back": "entry undone",
}


def act_in_words(what: str) -> str:
    """Return the words for a stored act."""
    return ACTS_IN_WORDS.get(what, what)
