"""What is sent: a form filled in mostly well, with some of it wrong; the JSON of a tablet; queries and addresses."""

import json
import uuid
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import quote_from_bytes

from hypothesis import strategies as st

from tests.fuzz import values
from tests.fuzz.pages import BOUNDARY, Field, Form, Pair, multipart, urlencoded

GUESSED = ("reason", "secret", "remark", "drawn", "act", "q", "kind", "on", "paper")  # where a page shows no form


@dataclass(frozen=True)
class Sent:
    """One request. `typed`: each text field with what was typed, for what must be kept on a refusal."""

    method: str
    path: str
    body: bytes = b""
    kind: str = "application/x-www-form-urlencoded"
    typed: tuple[Pair, ...] = ()

    def __str__(self) -> str:
        return f"{self.method} {self.path} {self.body[:400]!r}"


@st.composite
def filled(draw: Any, form: Form, today: date) -> Sent:
    """Up to three fields hold what nobody expects, up to two are missing, one may come twice or be unknown."""
    names = [field.name for field in form.fields]
    some = st.sets(st.sampled_from(names), max_size=3) if names else st.just(set())
    wild, missing = draw(some), draw(st.one_of(st.just(set()), some))
    pairs: list[Pair] = []
    files = []
    for field in form.fields:
        if field.name in missing:
            continue
        if field.type == "file":
            files.append((field.name, draw(values.names_of_files), draw(values.files)))
            if field.name in wild:
                pairs.append((field.name, draw(values.hostile)))
            continue
        pairs += [(field.name, value) for value in draw(_values_of(field, field.name in wild, today))]
    if form.keys:
        name, value = draw(st.sampled_from(form.keys))
        pairs.append((name, value.encode() if draw(st.integers(0, 4)) else draw(values.hostile)))
    if pairs and draw(st.integers(0, 5)) == 0:
        pairs.append((draw(st.sampled_from(pairs))[0], draw(values.hostile)))
    if draw(st.integers(0, 9)) == 0:
        pairs.append((draw(values.any_text), draw(values.hostile)))
    return _sent(form, pairs, files)


def _values_of(field: Field, wild: bool, today: date) -> st.SearchStrategy[list[bytes]]:
    one = values.unexpected(field) if wild else values.expected(field, today)
    if field.type == "checkbox" or field.many:
        return st.lists(one, max_size=len(field.options))
    return one.map(lambda value: [value])


def _sent(form: Form, pairs: list[Pair], files: list[tuple[str, str, bytes]]) -> Sent:
    if form.method == "get":
        return Sent("GET", f"{form.action.split('?')[0]}?{urlencoded(pairs).decode()}")
    texts = {field.name for field in form.fields if field.type in ("text", "textarea", "number", "date", "search")}
    names = [name for name, _ in pairs]
    typed = tuple((name, value) for name, value in pairs if name in texts and names.count(name) == 1)
    if form.multipart or files:
        kind = f"multipart/form-data; boundary={BOUNDARY}"
        return Sent("POST", form.action, multipart(pairs, files), kind, typed)
    return Sent("POST", form.action, urlencoded(pairs), typed=typed)


def guessed(path: str) -> st.SearchStrategy[Sent]:
    """For an endpoint whose form this person is not shown."""
    pairs = st.lists(st.tuples(st.sampled_from(GUESSED), values.hostile), max_size=4)
    return pairs.map(lambda found: Sent("POST", path, urlencoded(found)))


def asked(path: str, names: list[str], today: date) -> st.SearchStrategy[Sent]:
    """A page with a query: pages and days that do not exist among them."""
    value = st.one_of(values.hostile, values.days(today).map(str.encode), st.sampled_from([b"1", b"2", b"-1", b"0"]))
    pairs = st.lists(st.tuples(st.sampled_from(names), value), min_size=1, max_size=3)
    return pairs.map(lambda found: Sent("GET", f"{path}?{urlencoded(found).decode()}"))


def astray(pattern: str) -> st.SearchStrategy[Sent]:
    """An address with other arguments: `pattern` has `<int>`, `<uuid>`, `<slug>`, `<str>` where they stand."""
    ints = st.sampled_from(["0", "2147483648", "9223372036854775808", "9" * 30, "9" * 4500])
    slugs = st.sampled_from(["units", "heading", "x" * 300, "-", "____", "roster"])
    uuids = st.uuids().map(str)
    free = values.hostile.map(lambda text: quote_from_bytes(text[:300].replace(b"/", b"")) or "x")
    parts = {"<int>": ints, "<uuid>": uuids, "<slug>": slugs, "<str>": free}
    pieces = [parts.get(piece, st.just(piece)) for piece in _split(pattern)]
    return st.builds(Sent, st.sampled_from(["GET", "POST"]), st.tuples(*pieces).map("".join))


def _split(pattern: str) -> list[str]:
    return pattern.replace("<", "\0<").replace(">", ">\0").split("\0")


anything: st.SearchStrategy[Any] = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20),
        st.sampled_from([10**30, -(2**63), 2**31, "\ud800", "\0", "x" * 6000, "0001-01-01", "9999-12-31"]),
    ),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=8,
)  # fmt: skip


@st.composite
def batches(draw: Any, path: str, who: int, begin: dict[str, Any], fields: list[str]) -> Sent:
    """What a tablet sends, with some of it in another shape. `begin`: what a lesson is begun with."""
    events = []
    for _ in range(draw(st.integers(0, 4))):
        event: dict[str, Any] = {
            "id": str(draw(st.uuids())) if draw(st.integers(0, 4)) else str(uuid.UUID(int=5)),
            "kind": draw(st.sampled_from(["begin", "entry", "entry", "entry", "undo"])),
            "seq": draw(st.integers(-5, 50)),
            "at": draw(st.sampled_from([0, -(10**14), 253402300799999, 10**18, 1767225600000])),
            "field": draw(st.sampled_from(fields) | st.text(max_size=60)),
            "value": draw(st.sampled_from(["", "on", "perform", "12", "1:10"]) | st.sampled_from(values.TEXTS)),
        }
        if event["kind"] == "begin":
            event |= begin
        if draw(st.integers(0, 2)) == 0:
            event[draw(st.sampled_from([*event, "of", "unit", "on", "aircraft"]))] = draw(anything)
        events.append(event)
    body: dict[str, Any] = {
        "person": who, "device": str(uuid.UUID(int=7)), "events": events,
        "circuit": draw(st.sampled_from([None, 1, 2, 61, -1, 10**20])),
        "since": draw(st.sampled_from([0, 5, -1, 10**20])),
        "show": draw(st.sampled_from(["", "changed", "all"])),
    }  # fmt: skip
    if draw(st.integers(0, 4)) == 0:
        body[draw(st.sampled_from(sorted(body)))] = draw(anything)
    whole = body if draw(st.integers(0, 9)) else draw(anything)
    raw = json.dumps(whole).encode()
    if draw(st.integers(0, 14)) == 0:
        raw = draw(st.sampled_from([raw[:-2], b"", b"\xff\xfe", b"[" * 5000, b"nul", raw + b"x", b"NaN"]))
    return Sent("POST", path, raw, "application/json")
