"""Read the parts of an entry's name and value; an unknown one is refused in a sentence."""

from enum import StrEnum
from typing import NamedTuple, TypeVar

from school.errors import Refusal

Choice = TypeVar("Choice", bound=StrEnum)


class EntryChange(NamedTuple):
    """Give both values as the text that would write them again."""

    before: str
    after: str


def unknown_entry(what: str) -> Refusal:
    return Refusal(f"“{what[:60]}” is not an entry of this lesson. Reload the page; nothing was lost.")


def parse_choice(words: type[Choice], value: str) -> Choice:
    try:
        return words(value)
    except ValueError:
        raise unknown_entry(value) from None


def parse_number(number: str) -> int:
    if not number.isascii() or not number.isdigit() or len(number) > 3:
        raise unknown_entry(number)
    return int(number)
