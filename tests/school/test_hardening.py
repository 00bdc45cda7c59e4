"""What a browser is told with each page, and what no form may send.

Source: Content Security Policy Level 3 (W3C), the directives named in section 6; the policy itself is the project's.
"""

import re

import pytest
from django.test import Client

from tests.cast import Cast
from tests.factories import begin


def test_every_answer_carries_the_policy(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    for page in ("/login/", "/marks/", "/lessons/", f"/lessons/{begin(cast).uid}/", "/no-such-page/"):
        headers = client.get(page).headers
        policy = dict(part.strip().partition(" ")[::2] for part in headers["Content-Security-Policy"].split(";"))
        assert policy["default-src"] == "'none'"
        assert {policy[name] for name in ("script-src", "style-src", "connect-src", "form-action")} == {"'self'"}
        assert "unsafe" not in headers["Content-Security-Policy"]
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert headers["Referrer-Policy"] == "same-origin"
        assert "camera=()" in headers["Permissions-Policy"]


def test_no_page_has_what_the_policy_would_refuse(cast: Cast, client: Client) -> None:
    lesson = begin(cast)
    pages = {
        "amelia": ["/students/", f"/students/{cast.enrolment.uid}/", "/standard/", "/syllabuses/", "/gates/"],
        "bert": ["/lessons/", f"/lessons/{lesson.uid}/"],
        "dora": ["/me/"],
        "frida": ["/records/", f"/records/{cast.enrolment.uid}/"],
    }
    for who, addresses in pages.items():
        client.force_login(getattr(cast, who))
        for address in addresses:
            text = client.get(address).text
            assert not re.search(r"<[^>]* (style|on[a-z]+|hx-on[^=]*)=", text), address
            assert not re.search(r"<style|<script(?![^>]* src=)", text), address


@pytest.mark.parametrize("name", ["lesson.remarks", "next"])
def test_a_nul_character_is_refused_and_nothing_is_written(cast: Cast, client: Client, name: str) -> None:
    lesson = begin(cast)
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/entries/", {name: "a\0b"})
    assert reply.status_code == 400
    lesson.refresh_from_db()
    assert lesson.remarks == ""
    assert client.get("/students/?q=%00").status_code == 400
