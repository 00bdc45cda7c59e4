"""The command on files that are no facts: one sentence, exit 2, and never a traceback."""

import json
import re
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[4]
HISTORY = json.loads((ROOT / "fixtures/histories/ready.json").read_text())["facts"]
GOOD = json.dumps(HISTORY).encode()
STANDARD = (ROOT / "fixtures/standards/us.json").read_bytes()


def run(facts: Path | str, on: str = "2026-06-11", **options: Any) -> tuple[int, str, str]:
    """Return the exit code, and what was written to standard output and to standard error."""
    out, err = StringIO(), StringIO()
    try:
        call_command("assess", str(facts), f"--on={on}", stdout=out, stderr=err, **options)
    except SystemExit as stop:
        return int(str(stop.code)), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


BAD_FILES = {
    "not JSON": (b"student: D. Example", "this is not JSON"),
    "cut off": (GOOD[:-1], "this is not JSON"),
    "two values": (GOOD + b"{}", "this is not JSON"),
    "empty": (b"", "this is empty"),
    "spaces": (b" \n", "this is empty"),
    "Latin-1": (json.dumps({"student": "é"}, ensure_ascii=False).encode("latin-1"), "this is not text in UTF-8"),
    "UTF-16": (GOOD.decode().encode("utf-16"), "this is not text in UTF-8"),
    "binary": (bytes(range(256)), "this is not text in UTF-8"),
    "zeros": (b"\x00" * 100, "this is not JSON"),
    "brackets": (b"[" * 100_000, ""),
    "closed brackets": (b'{"x":' + b"[" * 100_000 + b"]" * 100_000 + b"}", "this is nested too deeply"),
    "braces": (b'{"x":' * 100_000 + b"1" + b"}" * 100_000, "this is nested too deeply"),
    "NaN": (GOOD.replace(b'"wrong": 2', b'"wrong": NaN'), "this is not JSON"),
    "infinite": (GOOD.replace(b'"wrong": 2', b'"wrong": Infinity'), "this is not JSON"),
    "huge": (GOOD.replace(b'"wrong": 2', b'"wrong": 1e999'), "knowledge_tests[0].wrong: "),
    "many digits": (GOOD.replace(b'"wrong": 2', b'"wrong": ' + b"9" * 10_000), "knowledge_tests[0].wrong: "),
    "half a character": (GOOD.replace(b"D. Example", b"\\ud800"), "this is not JSON"),
    "year 10000": (GOOD.replace(b"2004-03-02", b"10000-03-02"), "student.born: invalid"),
    "year 9999": (GOOD.replace(b"2004-03-02", b"9999-03-02"), "student.born: expected a year"),
    "year 0": (GOOD.replace(b"2004-03-02", b"0000-03-02"), "student.born: invalid"),
    "30 February": (GOOD.replace(b"2004-03-02", b"2004-02-30"), "student.born: invalid"),
    "twice": (GOOD.replace(b'"wrong": 2', b'"wrong": 2, "wrong": 0'), "knowledge_tests[0].wrong: this field is given"),
    "a line feed in a name": (GOOD.replace(b'"wrong"', b'"wr\\nong"'), "knowledge_tests[0]"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_of_facts_is_one_sentence(name: str, tmp_path: Path) -> None:
    content, sentence = BAD_FILES[name]
    assert content != GOOD
    file = tmp_path / "facts.json"
    file.write_bytes(content)
    code, out, err = run(file)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert sentence in err


BAD_STANDARDS = {
    "not JSON": (b"requirements: none", "this is not JSON"),
    "empty": (b"", "this is empty"),
    "UTF-16": (STANDARD.decode().encode("utf-16"), "this is not text in UTF-8"),
    "brackets": (b'{"x":' + b"[" * 100_000 + b"]" * 100_000 + b"}", "this is nested too deeply"),
    "misspelt": (STANDARD.replace(b'"check"', b'"chek"', 1), "requirements[0]"),
    "unknown check": (STANDARD.replace(b'"check": "paper"', b'"check": "papers"', 1), "there is no check named"),
    "NaN": (STANDARD.replace(b'"years": 16', b'"years": NaN'), "this is not JSON"),
    "negative": (STANDARD.replace(b'"years": 16', b'"years": -16'), "years: expected 0 to 5000"),
    "past the calendar": (STANDARD.replace(b'"years": 16', b'"years": 99999999999'), "years: expected 0 to 5000"),
    "none of ten": (STANDARD.replace(b'"good": 9', b'"good": 0', 1), "values.good: expected 1 to 5000"),
    "of the last none": (STANDARD.replace(b'"last": 10', b'"last": 0', 1), "values.last: expected 1 to 5000"),
    "eleven of ten": (STANDARD.replace(b'"good": 9', b'"good": 11', 1), "11 of the last 10 cannot be reached"),
    "in no circuit": (STANDARD.replace(b'"circuits": 10', b'"circuits": 0'), "values.circuits: expected 1 to 5000"),
    "no gate": (re.sub(rb'"gates": [^\]]*]', b'"gates": []', STANDARD), "values.gates: expected at least one word"),
    "no item": (re.sub(rb'"items": [^\]]*]', b'"items": []', STANDARD), "values.items: expected at least one word"),
    "no level": (STANDARD.replace(b'"solo_level": "perform"', b'"solo_level": "not_observed"'), "solo_level: expected"),
    "year 10000": (STANDARD.replace(b'"valid_from": "', b'"valid_from": "1'), "valid_from: invalid"),
    "twice": (STANDARD.replace(b'"years": 16', b'"years": 16, "years": 1'), "this field is given twice"),
}


@pytest.mark.parametrize("name", BAD_STANDARDS)
def test_a_bad_standard_is_one_sentence(name: str, tmp_path: Path) -> None:
    content, sentence = BAD_STANDARDS[name]
    assert content != STANDARD
    facts, standard = tmp_path / "facts.json", tmp_path / "standard.json"
    facts.write_bytes(GOOD)
    standard.write_bytes(content)
    code, out, err = run(facts, standard=standard)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert sentence in err


@pytest.mark.parametrize("what", ["facts", "standard"])
@pytest.mark.parametrize(
    ("path", "sentence"), [("/", "/: "), ("/dev/null", "empty"), ("/nowhere", "/nowhere: No such")]
)
def test_what_is_no_file_is_one_sentence(what: str, path: str, sentence: str, tmp_path: Path) -> None:
    good = tmp_path / "facts.json"
    good.write_bytes(GOOD)
    code, out, err = run(path) if what == "facts" else run(good, standard=Path(path))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert sentence in err


def test_a_file_without_end_is_refused_before_it_fills_the_memory() -> None:
    assert run("/dev/zero") == (2, "", "/dev/zero: this is larger than 64 MiB\n")


@pytest.mark.parametrize(
    "on", ["2026-06-31", "11 June 2026", "20260611", "2026-W24-4", "2026-6-11", "9999-01-01", "²⁰²⁶"]
)
def test_a_misspelt_day_is_one_sentence(on: str, tmp_path: Path) -> None:
    file = tmp_path / "facts.json"
    file.write_bytes(GOOD)
    code, out, err = run(file, on)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith("--on: ")
    assert on in err


def test_the_mark_of_an_editor_in_front_of_utf_8_changes_nothing(tmp_path: Path) -> None:
    plain, marked = tmp_path / "plain.json", tmp_path / "marked.json"
    plain.write_bytes(GOOD)
    marked.write_bytes(b"\xef\xbb\xbf" + GOOD)
    assert run(plain)[0] == 0
    assert run(marked) == run(plain)


def test_facts_of_tomorrow_are_refused(tmp_path: Path) -> None:
    file = tmp_path / "facts.json"
    lessons = [HISTORY["lessons"][0] | {"on": "2199-12-31", "signed": "2200-01-01"}]
    file.write_text(json.dumps(HISTORY | {"lessons": lessons}))
    code, out, err = run(file)
    assert (code, out) == (2, "")
    assert err.startswith("lessons[0].on is after today: 2199-12-31 and ")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_bytes_changed_at_random_never_end_in_a_traceback(tmp_path: Path, data: st.DataObject) -> None:
    content = bytearray(GOOD)
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(content) - 1))
        content[start : start + data.draw(st.integers(0, 20))] = data.draw(st.binary(max_size=8))
    file = tmp_path / "facts.json"
    file.write_bytes(content)
    code, out, err = run(file)
    assert (code, bool(out), err.count("\n")) in {(0, True, 0), (2, False, 1)}
