"""Every page of every role is valid HTML: what the standard’s checkers complain of is not there."""

import sys

import pytest

from tests import page_targets
from tests.access_matrix import ACCESS_MATRIX, Expected
from tests.cast import Cast
from tests.html_errors import html_errors
from tests.page_requests import PageRequests

HEAD = '<!DOCTYPE html><html lang="en"><head><title>A page</title></head>'
WHOLE = f"{HEAD}<body><main><h1>A page</h1>{{}}</main></body></html>"

WRONG = {
    "<p>one<p></div>": "syntax",
    "<span><form></form></span>": "nesting",
    "<button>a <a href='/'>way</a></button>": "nesting",
    "<ul><p>a</p></ul>": "nesting",
    "<details><p>a</p></details>": "nesting",
    "<p id='a'></p><p id='a'></p>": "references",
    "<p aria-describedby='gone'></p>": "references",
    "<a href='#gone'>there</a>": "references",
    "<label for='gone'>a</label>": "labels",
    "<label>a</label>": "labels",
    "<input name='a'>": "labels",
    "<button><svg aria-hidden='true'></svg></button>": "names",
    "<div aria-label='a'></div>": "names",
    "<h3>a</h3>": "headings",
    "<h1>a</h1>": "headings",
    "<p align='left'></p>": "attributes",
    "<label>a <input type='number' maxlength='3'></label>": "attributes",
    "<label>a <select required><option value='1'>1</option></select></label>": "attributes",
    "<table><tr><td>a</td></tr><tr><td>a</td><td>b</td></tr></table>": "tables",
    "<table><tr><th>a</th><td>b</td></tr></table>": "tables",
}


@pytest.mark.parametrize(("piece", "rule"), WRONG.items())
def test_what_is_wrong_is_found(piece: str, rule: str) -> None:
    assert {words.split(":")[0] for words in html_errors(WHOLE.format(piece))} == {rule}


def test_what_is_right_is_left_alone() -> None:
    piece = (
        "<label for='a'>A</label><input id='a' maxlength='3'><details><summary>More <b>of this</b></summary><p>b</p>"
        "</details><h2>c</h2><table><tr><th>a</th><th>b</th></tr><tr><th scope='row'>a</th><td rowspan='2'>b</td></tr>"
        "<tr><th scope='row'>a</th></tr></table>"
    )
    assert html_errors(WHOLE.format(piece)) == []


def asking(method: str, answers: dict[str, Expected]) -> list[str]:
    """Return who asks: all who read the page, and of those who are refused, or whose form comes back, the first."""
    reading = [who for who, expected in answers.items() if expected.status == 200 and method == "GET"]
    return reading + [who for who, expected in answers.items() if expected.status in (403, 404, 422)][:1]


def test_every_page_is_valid(cast: Cast, capsys: pytest.CaptureFixture[str]) -> None:
    """Each page for each person who reads it, and each form as it comes back when it is sent empty."""
    ask = PageRequests(cast, page_targets.create_page_targets(cast))
    wrong: dict[str, set[str]] = {}
    looked = 0
    for name, row in ACCESS_MATRIX.items():
        for (method, target), answers in row.answers.items():
            for who in asking(method, answers):
                reply = ask(who, name, method, target)
                if reply.get("Content-Type", "").startswith("text/html") and reply.content:
                    looked += 1
                    for words in html_errors(reply.text):
                        wrong.setdefault(words, set()).add(f"{name} {target}".strip())
    with capsys.disabled():
        sys.stdout.write(f"\n{looked} pages, {len(wrong)} complaints\n")
    assert [f"{words} ({min(pages)})" for words, pages in sorted(wrong.items())] == []
    assert looked > 500
