"""What is said is a key and values until somebody reads it."""

from datetime import date

from grading.rules.said import from_plain, said, to_plain, write

TABLE = {
    "many": ("{count} circuit", "{count} circuits"),
    "whole": "{gates}; until {ends}, after {many} with {code}.",
}


def test_a_sentence_is_written_from_its_values() -> None:
    one, none = said("many", count=1), said("many", count=0)
    what = said("whole", gates=(one, "final"), ends=date(2026, 6, 3), many=none, code=7)
    text = write(what, TABLE, {"code": lambda value: f"code {value}"}, date.isoformat)
    assert text == "1 circuit; final; until 2026-06-03, after 0 circuits with code 7."
    assert from_plain(to_plain(what)) == what
