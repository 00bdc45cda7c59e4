"""Check a reason that a person writes and that stays with the record for good."""

from school.errors import Refusal

MAX_LENGTH = 2000  # characters; it is printed whole


def required_text(text: str, asked: str, most: int = MAX_LENGTH) -> str:
    """Return the text without white space around it. Refuses an empty one with `asked`, and one above `most`."""
    text = text.strip()
    if not text:
        raise Refusal(asked)
    return limited_text(text, most)


def limited_text(text: str, most: int = MAX_LENGTH) -> str:
    """Return the text as required_text does, but allow an empty one."""
    text = text.strip()
    if len(text) > most:
        raise Refusal(
            f"That is {len(text):,} characters long, and {most:,} are the most: shorten it. Nothing was changed."
        )
    return text
