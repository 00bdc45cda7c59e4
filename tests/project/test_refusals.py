"""A refusal is said in whole sentences where it is raised: nothing is glued, and the person is told what to do."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

ROOT: Path = settings.BASE_DIR
# It begins with a capital, a quotation mark, a value or the name of a program, and ends as a sentence or with a value.
WHOLE = re.compile(r"^(?![a-z])(?s:.*)[.?…]$|^(manage\.py|pg_dump|pg_restore) (?s:.*)[.…]$")
NOT_A_SENTENCE = {
    # The command that installs what is missing comes last, to be copied.
    "Printing needs system libraries that are missing: sudo apt-get install -y …",
}


def refusals() -> Iterator[tuple[str, ast.expr]]:
    for app in ("grading", "lessons", "school"):
        for path in sorted((ROOT / app).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Refusal" and node.args:
                    yield f"{path.relative_to(ROOT)}:{node.lineno}", node.args[0]


def text_of(said: ast.expr) -> str | None:
    """Return a text with … in the place of each value; None for what is worded elsewhere."""
    if isinstance(said, ast.Constant):
        return str(said.value)
    if isinstance(said, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in said.values)
    return None


def test_every_refusal_is_a_whole_sentence() -> None:
    rows = [*refusals()]
    texts = [(where, text) for where, said in rows if (text := text_of(said)) is not None]
    assert len(texts) > 250
    assert [row for row in texts if not WHOLE.match(row[1]) and row[1] not in NOT_A_SENTENCE] == []
    assert [where for where, said in rows if isinstance(said, ast.BinOp)] == []
    assert [row for row in texts if re.search(r"\w\(e?s\)", row[1])] == []
