"""What a person writes down as their reason, and what stays with the record for good."""

from school.errors import Refusal

MAX_LENGTH = 2000  # characters; it is printed whole


def required_text(text: str, asked: str, most: int = MAX_LENGTH) -> str:
    """The text without white space around it. Refused when empty, with `asked`, and when longer than `most`."""
    text = text.strip()
    if not text:
        raise Refusal(asked)
    return limited_text(text, most)


def limited_text(text: str, most: int = MAX_LENGTH) -> str:
    """The same for a text that may be empty."""
    text = text.strip()
    if len(text) > most:
        raise Refusal(
            f"That is {len(text):,} characters long, and {most:,} are the most: shorten it. Nothing was changed."
        )
    return text
