"""Read facts and standards from JSON, and write verdicts. A wrong field is named by its path."""

import json
import re
from datetime import date
from typing import Any, TypeVar

import msgspec

from grading.rules.readiness.contradictions import contradictions
from grading.rules.readiness.fact_forms import FieldForm, fields_of
from grading.rules.readiness.facts import COUNTED_PARTS, Facts
from grading.rules.readiness.facts_schema import strict_schema
from grading.rules.readiness.standard import FROM_TRACKS, StandardSpec
from grading.rules.readiness.verdict import Outcome, Verdict

Decoded = TypeVar("Decoded")

# Years, days, minutes and counts; with more, a sum of days would leave the calendar.
MOST_THRESHOLD = 5000
# Of these there is at least one, or there is nothing to look at.
COUNTS = frozenset({"circuits", "clean", "good", "last", "least", "lessons", "needed"})
MAY_BE_EMPTY = frozenset({"similar_types"})


class BadInput(ValueError):
    """Refuse JSON; the text names the path of the wrong field and what was expected."""


def facts_from_json(text: str | bytes, today: date | None = None) -> Facts:
    """Read facts. BadInput for a text of another form, and for facts that contradict themselves.

    `today`: what is dated after it is refused too; None where the facts are of an invented time.
    """
    facts = _decode(text, Facts)
    for sentence in contradictions(facts, today):
        raise BadInput(sentence)
    return facts


def standard_from_json(content: Any) -> StandardSpec:
    """Read a standard from JSON text, or from the values of such a text."""
    text = content if isinstance(content, str | bytes) else msgspec.json.encode(content)
    standard = _decode(text, StandardSpec)
    _refuse_absurd(standard)
    return standard


def facts_to_json(facts: Facts) -> str:
    return msgspec.json.format(msgspec.json.encode(facts), indent=2).decode()


def facts_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the facts.

    It refuses what facts_from_json() refuses, except what compares two fields: days in order, numbers given twice.
    """
    return strict_schema(msgspec.json.schema(Facts))


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
        "requirements": [_outcome_to_json(outcome) for outcome in verdict.requirements],
    }


def _outcome_to_json(outcome: Outcome) -> dict[str, Any]:
    """Return a requirement in words: a reader of the file has no engine, and what is sealed keeps its words."""
    return {
        "sentence": outcome.sentence,
        "key": outcome.key,
        "title": outcome.title,
        "group": outcome.group,
        "kind": outcome.kind,
        "source": outcome.source,
        "state": outcome.state.value,
        "how_far": outcome.how_far,
        "done": outcome.done,
        "needed": outcome.needed,
        "evidence": [
            {"text": row.text, "lesson": row.lesson, "circuit": row.circuit, "id": row.id} for row in outcome.evidence
        ],
        "would_meet": outcome.would_meet,
        "since": outcome.since.isoformat() if outcome.since else None,
        "until": outcome.until.isoformat() if outcome.until else None,
        "reason": outcome.reason,
        "more": outcome.more,
    }


def _decode(content: str | bytes, form: type[Decoded]) -> Decoded:
    text = _as_text(content)
    try:
        decoded = msgspec.json.decode(text, type=form)
        # Read a second time for the names alone: the decoder passes over fields that it does not know, and keeps only
        # the last of two with one name. Numbers stay text, which Python converts only up to some thousand digits.
        names = json.loads(text, object_pairs_hook=_keep_names, parse_int=str, parse_float=str)
    except msgspec.ValidationError as error:
        raise BadInput(_path_first(str(error))) from error
    except (msgspec.DecodeError, ValueError) as error:
        raise BadInput(f"this is not JSON: {error}") from error
    except RecursionError as error:
        raise BadInput("this is nested too deeply to be read") from error
    if wrong := _wrong_name(names, FieldForm(form, False)):
        raise BadInput(f"{wrong[0].removeprefix('.')}: {wrong[1]}")
    return decoded


def _as_text(content: str | bytes) -> str:
    try:
        # With or without the mark that some editors put in front of UTF-8.
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
    except UnicodeDecodeError as error:
        raise BadInput("this is not text in UTF-8") from error
    if not text.strip():
        raise BadInput("this is empty, expected JSON")
    return text


class _Repeating(dict[str, Any]):
    """An object of JSON in which a field was given twice."""

    twice: str


def _keep_names(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    fields = dict(pairs)
    if len(fields) == len(pairs):
        return fields
    names = [name for name, _ in pairs]
    repeating = _Repeating(pairs)
    repeating.twice = next(name for name in names if names.count(name) > 1)
    return repeating


def _path_first(message: str) -> str:
    """Turn 'Expected `int`, got `str` - at `$.lessons[3].number`' round, so that the path comes first."""
    match = re.fullmatch(r"(.*) - at `\$\.?(.*)`", message)
    words, path = (match[1], match[2]) if match else (message, "")
    return f"{path or 'the whole file'}: {words[0].lower()}{words[1:]}".replace("`", "")


def _wrong_name(given: Any, form: FieldForm) -> tuple[str, str] | None:
    """Return the path of an unknown or repeated field and what is wrong: a misspelt optional one would be lost."""
    # By the types and not by what was decoded, from which an optional object may be absent. The path is put together on
    # the way back, because a long history has a hundred thousand objects.
    if isinstance(given, _Repeating):
        return f".{_one_line(given.twice)}", "this field is given twice"
    known = fields_of(form.inside)
    if not known:
        return None
    if form.is_list:
        entry_form = FieldForm(form.inside, False)
        for place, entry in enumerate(given):
            if wrong := _wrong_name(entry, entry_form):
                return f"[{place}]{wrong[0]}", wrong[1]
        return None
    for key, value in given.items():
        if key not in known:
            return f".{_one_line(key)}", f"no such field, expected one of {', '.join(sorted(known))}"
        if isinstance(value, dict | list) and (wrong := _wrong_name(value, known[key])):
            return f".{key}{wrong[0]}", wrong[1]
    return None


def _one_line(name: str) -> str:
    return " ".join(name.split())[:60]


def _refuse_absurd(standard: StandardSpec) -> None:
    """Refuse thresholds with which a check could not count, or would be met by nothing.

    The bounds of the law and the school are narrower.
    """
    if not standard.solo_level.observed:
        raise BadInput("solo_level: expected a level, got not_observed")
    for place, spec in enumerate(standard.requirements):
        for name, value in spec.values.items():
            where = f"requirements[{place}].values.{name}"
            least = 1 if name in COUNTS else 0
            if isinstance(value, int) and not least <= value <= MOST_THRESHOLD:
                raise BadInput(f"{where}: expected {least} to {MOST_THRESHOLD}")
            if name == FROM_TRACKS and value not in (0, 1):
                raise BadInput(f"{where}: expected 1 where numbers from a flight track count, 0 where not")
            # A requirement about none of them would be met by a student who has shown nothing.
            if value == () and name not in MAY_BE_EMPTY:
                raise BadInput(f"{where}: expected at least one word")
            if name == "part" and not set(spec.words(name)) <= set(COUNTED_PARTS):
                raise BadInput(f"{where}: expected one of {', '.join(COUNTED_PARTS)}")
