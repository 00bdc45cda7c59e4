"""What a browser is told with each answer, what no form may send, what is refused before it costs anything.

Sources: Content Security Policy Level 3 (W3C), the directives named in section 6; OWASP ASVS 5.0, chapters 3 and 4,
from memory; the policy itself is the project's.
"""

import gzip
import logging
import re

import pytest
from django.core.cache import cache
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from grading.models import DeviceEvent
from grading.sheets.pdf import _font_fetcher
from lessons.syllabus_file import InvalidSyllabusFile, parse_syllabus
from school.downloads import content_disposition
from school.models import Person, Role
from school.rate_limits import client_address, client_bucket
from school.views import frame
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson
from tests.security_headers import assert_security_headers


def test_refusals_of_the_framework_carry_it_too(client: Client, db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    assert_security_headers(dict(client.get("/no-such-page/").items()), "404")
    assert_security_headers(dict(client.get("/marks/", headers={"Host": "elsewhere.example"}).items()), "400")
    assert_security_headers(dict(client.post("/login/", headers={"Content-Length": str(2**30)}).items()), "413")
    page = frame.render
    monkeypatch.setattr(frame, "render", lambda *told, **more: page(*told, **more) if more else 1 / 0)
    broken = Client(raise_request_exception=False).get("/marks/")
    assert broken.status_code == 500
    assert_security_headers(dict(broken.items()), "500")


def test_a_host_that_is_not_ours_is_refused(client: Client, db: None) -> None:
    for headers in ({"Host": "elsewhere.example"}, {"Host": "testserver@elsewhere.example"}, {"Host": "a b"}):
        assert client.get("/login/", headers=headers).status_code == 400
    # Nothing is made of a host that a proxy passes on.
    assert client.get("/login/", headers={"X-Forwarded-Host": "elsewhere.example"}).status_code == 200
    assert "elsewhere" not in client.get("/login/", headers={"X-Forwarded-Host": "elsewhere.example"}).text


def test_no_page_has_what_the_policy_would_refuse(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
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
            "/account/e-mail/",
            "/account/confirm/",
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
            # What was on a page stays in no storage of the browser for the key “back”.
            assert '"historyCacheSize":0' in text
        assert client.post("/account/confirm/", {"password": SECRET}).status_code == 302
        for address in ("/account/second-step/codes/", "/account/second-step/passkeys/"):
            text = client.get(address).text
            assert "<form" in text
            assert not re.search(r"<[^>]* (style|on[a-z]+)=|<style|<script(?![^>]* src=)", text), address


@pytest.mark.parametrize("name", ["lesson.remarks", "next"])
def test_a_nul_character_is_refused_and_nothing_is_written(cast: Cast, client: Client, name: str) -> None:
    lesson = begin_lesson(cast)
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/entries/", {name: "a\0b"})
    assert reply.status_code == 400
    lesson.refresh_from_db()
    assert lesson.remarks == ""
    assert client.get("/students/?q=%00").status_code == 400


def test_pages_are_sent_compressed_and_of_no_certain_length(cast: Cast, client: Client) -> None:
    client.force_login(cast.bert)
    page = f"/lessons/{begin_lesson(cast).uid}/"
    sent = [client.get(page, headers={"Accept-Encoding": "gzip"}) for _ in range(6)]
    assert {answer.headers["Content-Encoding"] for answer in sent} == {"gzip"}
    assert len(sent[0].content) < len(client.get(page).content) / 4
    assert "Dora Example" in gzip.decompress(sent[0].content).decode()
    assert len({len(answer.content) for answer in sent}) > 1
    plain = client.get("/marks/", headers={"Accept-Encoding": "identity"})
    assert "Content-Encoding" not in plain.headers


@pytest.mark.parametrize(
    ("back", "to"),
    [
        ("/marks/", "/marks/"), ("https://elsewhere.example/", "/"), ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"), ("javascript:alert(1)", "/"), ("marks", "/"), ("grading:home", "/"),
        ("/a\r\nSet-Cookie: x=1", "/"),
    ],
)  # fmt: skip
def test_the_display_setting_redirects_to_own_paths_only(client: Client, db: None, back: str, to: str) -> None:
    reply = client.post("/display/", {"light": "night", "next": back})
    assert (reply.status_code, "x" in reply.cookies) == (302, False)
    assert reply["Location"] == to or reply["Location"].startswith("/a%0D%0A")
    assert reply.cookies["light"]["httponly"]


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_logging_in_leads_nowhere_else_and_takes_a_new_session(cast: Cast, client: Client, back: str) -> None:
    client.get("/login/")
    client.session["planted"] = True
    planted = client.session
    planted["planted"] = True
    planted.save()
    client.cookies["sessionid"] = planted.session_key
    reply = client.post(f"/login/?next={back}", {"username": "bert", "password": SECRET, "next": back})
    assert reply.status_code == 302
    assert "elsewhere" not in reply["Location"]
    assert "javascript" not in reply["Location"]
    assert client.session.session_key != planted.session_key
    before = client.session.session_key
    client.post("/logout/")
    client.cookies["sessionid"] = before
    assert client.get("/lessons/")["Location"].startswith("/login/")


def test_a_name_of_a_file_leads_nowhere() -> None:
    assert content_disposition('../../etc/"x"; filename="y\r\nSet-Cookie: a=b.pdf') == (
        'attachment; filename="etc-x-filename-y-Set-Cookie-a-b.pdf"'
    )
    assert content_disposition("...") == 'attachment; filename="file"'
    assert content_disposition("Jürgen-1.pdf", inline=True).startswith("inline; filename*=utf-8''J%C3%BCrgen")


def test_the_path_is_logged_in_one_line(client: Client, db: None, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, "django.request"):
        client.get("/no%0d%0aFORGED%1b[31m/")
    assert caplog.records
    assert all("\n" not in row.getMessage() and "\x1b" not in row.getMessage() for row in caplog.records)


def test_checks_are_counted_by_address(
    client: Client, db: None, settings: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.CHECKS_A_MINUTE = 3  # type: ignore[attr-defined]
    cache.clear()
    now = timezone.now()  # checks are counted by the minute: none begins in between, however slow the machine is
    monkeypatch.setattr(timezone, "now", lambda: now)
    asked = lambda address: client.get("/check/?fingerprint=x", REMOTE_ADDR=address)  # noqa: E731
    answers = [asked("203.0.113.7").status_code for _ in range(8)]
    assert answers == [200] * 3 + [429] * 5
    assert client.post("/check/", REMOTE_ADDR="203.0.113.7").status_code == 429
    assert client.post("/check/", REMOTE_ADDR="203.0.113.7")["Retry-After"] == "60"
    assert asked("203.0.113.8").status_code == 200
    assert client.get("/check/", REMOTE_ADDR="203.0.113.7").status_code == 200  # the page itself costs nothing


@pytest.mark.parametrize(
    ("proxies", "forwarded", "remote", "address"),
    [
        (0, "198.51.100.1", "203.0.113.7", "203.0.113.7"),
        (1, "198.51.100.1", "127.0.0.1", "198.51.100.1"),
        (1, "192.0.2.1, 198.51.100.1", "127.0.0.1", "198.51.100.1"),
        (2, "192.0.2.1, 198.51.100.1", "127.0.0.1", "192.0.2.1"),
        (1, "rubbish", "203.0.113.7", "203.0.113.7"),
        (1, "", "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        (1, "", "", ""),
    ],
)
def test_the_address_is_the_one_our_own_proxy_saw(
    settings: object, proxies: int, forwarded: str, remote: str, address: str
) -> None:
    """Documentation addresses of RFC 5737 and RFC 3849."""
    settings.TRUSTED_PROXIES = proxies  # type: ignore[attr-defined]
    request = RequestFactory().get("/", headers={"X-Forwarded-For": forwarded}, REMOTE_ADDR=remote)
    assert client_bucket(client_address(request)) == address


@pytest.mark.parametrize(
    "body",
    ["[" * 100_000, '{"person":' * 50_000, '{"a":' + "9" * 5000 + "}", '{"events":' + "[" * 90_000 + "]" * 90_000 + "}",
     b"\xff\xfe", " " * 3_000_000],
)  # fmt: skip
def test_events_too_deep_or_too_many_are_refused(cast: Cast, client: Client, body: str | bytes) -> None:
    client.force_login(cast.bert)
    lesson = begin_lesson(cast)
    reply = client.post(f"/lessons/{lesson.uid}/entries/batch/", body, content_type="application/json")
    assert reply.status_code == 400
    assert not DeviceEvent.objects.exists()


def test_aliases_that_grow_are_not_read() -> None:
    """Three lines that stand for 10 to the 12th gradings."""
    bomb = "a: &a [x, x]\nb: &b [*a, *a, *a]\nstages: [*b, *b]\n"
    with pytest.raises(InvalidSyllabusFile, match=r"line 2.*alias"):
        parse_syllabus(bomb)


@pytest.mark.parametrize(
    ("text", "said"),
    [("[" * 200_000, "depth"), ("[" * 60, "50 levels"), ("- " * 100_000, "50 levels"), ("a: !!float ''", "tag"),
     ("a: !!int ''", "tag"), ("!!python/object/apply:os.system [x]", "tag")],
)  # fmt: skip
def test_a_file_too_deep_or_with_tags_is_refused_in_a_sentence(text: str, said: str) -> None:
    with pytest.raises(InvalidSyllabusFile, match=f"line 1.*{said}"):
        parse_syllabus(text)


@pytest.mark.parametrize(
    "address",
    ["http://169.254.169.254/latest/", "https://elsewhere.example/x.png", "file:///etc/passwd", "ftp://x/y",
     "file://elsewhere.example/share/x", "data:text/css,body{}", "file:///proc/self/environ",
     "file:///{fonts}/../../../../settings.py"],
)  # fmt: skip
def test_paper_fetches_its_own_fonts_and_nothing_else(address: str) -> None:
    from grading.sheets.pdf import FONT_FOLDER  # noqa: PLC0415

    with pytest.raises(ValueError, match="fetches nothing"):
        _font_fetcher().fetch(address.replace("/{fonts}", str(FONT_FOLDER)))
    font = _font_fetcher().fetch(next(FONT_FOLDER.glob("*.woff2")).as_uri())
    assert font.read(4) == b"wOF2"
    font.close()


def test_a_form_takes_its_own_fields_and_no_others(cast: Cast, client: Client) -> None:
    client.force_login(cast.frida)
    more = {"roles": ["admin", "chief"], "is_active": "", "by": cast.amelia.pk, "at": "2020-01-01", "password": "x"}
    made = client.post(
        reverse("grading:enrol_student"),
        {
            "given_name": "Ida", "family_name": "Example", "reference": "T-9", "username": "ida", "born": "2001-01-01",
            "syllabus": cast.enrolment.syllabus_id, "aircraft_type": cast.type.pk, "instructor": cast.bert.pk,
            "on": str(cast.today), **more,
        },
    )  # fmt: skip
    assert made.status_code == 302
    ida = Person.objects.get(username="ida")
    assert (ida.roles, ida.is_active, ida.has_usable_password()) == ([Role.STUDENT], True, False)
    lesson = begin_lesson(cast)
    client.force_login(cast.bert)
    for name in ("lesson.signed_at", "lesson.instructor", "lesson.number", "lesson.uid", "instructor", "signed_by"):
        assert client.post(f"/lessons/{lesson.uid}/entries/", {name: cast.cleo.pk}).status_code == 422
    lesson.refresh_from_db()
    assert (lesson.instructor_id, lesson.signed_at) == (cast.bert.pk, None)
