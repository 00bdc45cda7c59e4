"""What a person writes down as their reason, and what stays with the record for good."""

from school.errors import Refused

LONGEST = 2000  # characters; it is printed whole


def written(text: str, asked: str, most: int = LONGEST) -> str:
    """The text without white space around it. Refused when empty, with `asked`, and when longer than `most`."""
    text = text.strip()
    if not text:
        raise Refused(asked)
    return bounded(text, most)


def bounded(text: str, most: int = LONGEST) -> str:
    """The same for a text that may be empty."""
    text = text.strip()
    if len(text) > most:
        raise Refused(
            f"That is {len(text):,} characters long, and {most:,} are the most: shorten it. Nothing was changed."
        )
    return text
