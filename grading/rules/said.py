"""Hold what is to be said as a key and values, apart from its words, and write it by a table of sentences. Pure.

A table has a whole sentence for each key, or a pair of them, of which `count` chooses: one for 1, the other for all
else. A second language is a second table.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

Sentences = Mapping[str, str | tuple[str, str]]
# How a value is written, by its name: codes of a school have words of their own.
Writers = Mapping[str, Callable[[Any], str]]


@dataclass(frozen=True, slots=True)
class Said:
    """Name a sentence and give its values: numbers, days, texts, other sentences, and lists of such."""

    key: str
    values: Mapping[str, Any]


def said(key: str, /, **values: Any) -> Said:
    return Said(key, values)


def write(what: Said, sentences: Sentences, writers: Writers, write_day: Callable[[date], str]) -> str:
    """Return the sentence with its values written out."""

    def written(name: str, value: Any) -> Any:
        if name in writers:
            return writers[name](value)
        if isinstance(value, Said):
            return write(value, sentences, writers, write_day)
        if isinstance(value, tuple):
            return "; ".join(str(written("", entry)) for entry in value)
        return write_day(value) if isinstance(value, date) else value

    form = sentences[what.key]
    if isinstance(form, tuple):
        form = form[what.values["count"] != 1]
    return form.format_map({name: written(name, value) for name, value in what.values.items()})


def to_plain(value: Any) -> Any:
    """Return what is said as plain values of JSON, from which from_plain() makes it again."""
    if isinstance(value, Said):
        return {"key": value.key, "values": {name: to_plain(entry) for name, entry in value.values.items()}}
    if isinstance(value, tuple):
        return [to_plain(entry) for entry in value]
    return {"day": value.isoformat()} if isinstance(value, date) else value


def from_plain(value: Any) -> Any:
    if isinstance(value, dict):
        if "day" in value:
            return date.fromisoformat(value["day"])
        return Said(value["key"], {name: from_plain(entry) for name, entry in value["values"].items()})
    return tuple(map(from_plain, value)) if isinstance(value, list) else value
