"""Read facts and standards from JSON, and write verdicts. A wrong field is named by its path."""

import re
from dataclasses import asdict
from datetime import date
from typing import Any, TypeVar

import msgspec

from grading.rules.readiness.facts import Facts
from grading.rules.readiness.standard import StandardSpec
from grading.rules.readiness.verdict import Verdict

Decoded = TypeVar("Decoded")


class BadInput(ValueError):
    """Refuse JSON; the text names the path of the wrong field and what was expected."""


def facts_from_json(text: str | bytes) -> Facts:
    return _decode(text, Facts)


def standard_from_json(content: Any) -> StandardSpec:
    """Read a standard from JSON text, or from the values of such a text."""
    if isinstance(content, str | bytes):
        return _decode(content, StandardSpec)
    return _decode(msgspec.json.encode(content), StandardSpec)


def facts_to_json(facts: Facts) -> str:
    return msgspec.json.format(msgspec.json.encode(facts), indent=2).decode()


def facts_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the facts."""
    return msgspec.json.schema(Facts)


def verdict_to_json(verdict: Verdict) -> dict[str, Any]:
    """Return a verdict as plain values: headline, and each requirement with state, sentence, evidence and source."""
    return {
        "student": verdict.student,
        "aircraft_type": verdict.aircraft_type,
        "on": verdict.on.isoformat(),
        "standard": verdict.standard,
        "rule_set": verdict.rule_set,
        "engine": verdict.engine,
        "headline": verdict.headline,
        "ready": verdict.ready,
        "advice": "Evidence for an instructor's judgement, never permission to fly.",
        # The sentence is written too, though it follows from the rest: a reader of the file has no engine.
        "requirements": [{"sentence": outcome.sentence, **_plain(asdict(outcome))} for outcome in verdict.requirements],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return value.isoformat() if isinstance(value, date) else value


def _decode(text: str | bytes, form: type[Decoded]) -> Decoded:
    try:
        plain = msgspec.json.decode(text)
    except msgspec.DecodeError as error:
        raise BadInput(f"this is not JSON: {error}") from error
    try:
        decoded = msgspec.convert(plain, form)
    except msgspec.ValidationError as error:
        raise BadInput(_path_first(str(error))) from error
    # Written out again and compared: the decoder itself passes over fields that it does not know.
    _refuse_unknown(plain, msgspec.to_builtins(decoded), "")
    return decoded


def _path_first(message: str) -> str:
    """Turn 'Expected `int`, got `str` - at `$.lessons[3].number`' round, so that the path comes first."""
    match = re.fullmatch(r"(.*) - at `\$\.?(.*)`", message)
    words, path = (match[1], match[2]) if match else (message, "")
    return f"{path or 'the whole file'}: {words[0].lower()}{words[1:]}".replace("`", "")


def _refuse_unknown(given: Any, known: Any, path: str) -> None:
    """Refuse an unknown field by its path: a misspelt optional one would be lost silently."""
    if isinstance(given, dict) and isinstance(known, dict):
        for key, value in given.items():
            if key not in known:
                expected = ", ".join(sorted(known))
                raise BadInput(f"{path}{key}: no such field, expected one of {expected}")
            _refuse_unknown(value, known[key], f"{path}{key}.")
    elif isinstance(given, list) and isinstance(known, list):
        for place, (value, entry) in enumerate(zip(given, known, strict=True)):
            _refuse_unknown(value, entry, f"{path.rstrip('.')}[{place}].")
