"""What a browser is told with each page, and what no form may send.

Source: Content Security Policy Level 3 (W3C), the directives named in section 6; the policy itself is the project's.
"""

import gzip
import re

import pytest
from django.test import Client

from tests.cast import SECRET, Cast
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
        "frida": [
            "/records/",
            f"/records/{cast.enrolment.uid}/",
            "/people/",
            f"/people/{cast.bert.pk}/",
            "/people/add/",
            "/account/",
            "/account/password/",
            "/account/address/",
            "/account/again/",
            "/account/second-step/",
            "/aircraft/",
            "/aerodromes/",
            f"/aerodromes/{cast.runway.aerodrome_id}/",
        ],
    }
    for who, addresses in pages.items():
        client.force_login(getattr(cast, who))
        for address in addresses:
            text = client.get(address).text
            assert not re.search(r"<[^>]* (style|on[a-z]+|hx-on[^=]*)=", text), address
            assert not re.search(r"<style|<script(?![^>]* src=)", text), address
        assert client.post("/account/again/", {"password": SECRET}).status_code == 302
        for address in ("/account/second-step/codes/", "/account/second-step/passkeys/"):
            text = client.get(address).text
            assert "<form" in text
            assert not re.search(r"<[^>]* (style|on[a-z]+)=|<style|<script(?![^>]* src=)", text), address


@pytest.mark.parametrize("name", ["lesson.remarks", "next"])
def test_a_nul_character_is_refused_and_nothing_is_written(cast: Cast, client: Client, name: str) -> None:
    lesson = begin(cast)
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/entries/", {name: "a\0b"})
    assert reply.status_code == 400
    lesson.refresh_from_db()
    assert lesson.remarks == ""
    assert client.get("/students/?q=%00").status_code == 400


def test_pages_are_sent_compressed_and_of_no_certain_length(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    page = f"/lessons/{begin(cast).uid}/"
    sent = [client.get(page, headers={"Accept-Encoding": "gzip"}) for _ in range(6)]
    assert {answer.headers["Content-Encoding"] for answer in sent} == {"gzip"}
    assert len(sent[0].content) < len(client.get(page).content) / 4
    assert "Dora Example" in gzip.decompress(sent[0].content).decode()
    assert len({len(answer.content) for answer in sent}) > 1
    plain = client.get("/marks/", headers={"Accept-Encoding": "identity"})
    assert "Content-Encoding" not in plain.headers
