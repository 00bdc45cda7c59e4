"""Who reaches what: each page for each of the cast (tests/access_matrix.py), and the number of queries of each list."""

import logging
import re
import sys
from collections.abc import Callable, Iterator

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from lessons.models import Lesson
from tests import page_targets
from tests.access_matrix import ACCESS_MATRIX, PEOPLE, PERMITTED_FORMS, Expected
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson
from tests.page_requests import PageRequests
from tests.shared_state import shared_state

METHODS = ("GET", "POST", "HEAD", "PUT", "DELETE")
# Views of Django: they take HEAD, OPTIONS and PUT as well, and say the same to them.
DJANGO_VIEWS, CLASS_VIEW_METHODS = {"school:login", "school:logout"}, {"HEAD", "PUT"}
# What watches the server may ask with HEAD too.
MONITORED_PAGES = {"grading:health", "grading:ready", "grading:metrics"}
# What is derived from the records is kept when a page needs it.
DERIVED_TABLES = {"grading_storedverdict"}
FORGED_HEADERS = {
    "HX-Request": "true", "HX-Boosted": "true", "HX-Target": "work", "HX-Trigger": "work", "HX-Trigger-Name": "q",
    "X-HTTP-Method-Override": "GET", "X-Requested-With": "XMLHttpRequest", "X-Original-URL": "/marks/",
}  # fmt: skip
# Counters in addresses, which anybody may guess: of people and their papers, of what the staff alone reads, of the
# circuits of a lesson whose own address nobody guesses.
GUESSABLE_PAGES = {
    "grading:review_test", "grading:void_paper", "grading:endorsement_list", "grading:hand_over_record",
    "grading:earlier_training", "grading:received_record", "grading:blank_lesson", "lessons:syllabus",
    "lessons:syllabus_file", "lessons:begin_draft", "lessons:syllabus_draft", "lessons:publish_draft",
    "lessons:discard_draft", "lessons:draft_part", "school:person", "school:change_roles", "school:add_certificate",
    "school:void_certificate", "school:invite_person", "school:revoke_access", "school:restore_access",
    "school:reset_second_step", "school:stop_change", "school:change_service", "school:change_type", "school:edit_type",
    "school:one_aircraft", "school:add_aircraft_paper", "school:aircraft_document", "school:void_aircraft_paper",
    "grading:document",
    "school:aerodrome", "school:add_runway", "school:edit_runway", "school:runway_place", "school:end_session",
    "mfa_remove_webauthn", "grading:instructor", "grading:circuit", "grading:track_circuit", "grading:enter_readings",
    "grading:grade_track_circuit", "grading:move_students",
}  # fmt: skip


def url_patterns(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from url_patterns(entry, f"{entry.namespace}:" if entry.namespace else space)
        else:
            yield f"{space}{entry.name}", entry


def test_every_page_stands_in_the_ladder() -> None:
    assert sorted(name for name, _ in url_patterns(get_resolver())) == sorted(ACCESS_MATRIX)


@pytest.fixture
def ask(cast: Cast, settings: object, caplog: pytest.LogCaptureFixture) -> PageRequests:
    caplog.set_level(logging.ERROR, logger="django.request")  # thousands are refused, and each is logged
    settings.CHECKS_A_MINUTE = 10_000  # type: ignore[attr-defined]
    return PageRequests(cast, page_targets.create_page_targets(cast))


def mismatches(ask: PageRequests, name: str, method: str, target: str, who: str, rung: Expected) -> Iterator[str]:
    refused = rung.refused and not name.startswith("school:")
    form = PERMITTED_FORMS.get(name) if refused else None
    reply = ask(who, name, method, target, form)
    if reply.status_code != rung.status:
        yield f"{reply.status_code} and not {rung.status}"
    if who == "nobody" and reply.status_code == 302 and refused and not reply["Location"].startswith("/login/"):
        yield f"sends nobody to {reply['Location']}"
    if refused and method == "POST" and reply.wrote:
        yield f"refused, and wrote {reply.wrote}"
    if method == "GET" and not refused and name != "grading:blank_lesson" and reply.wrote - DERIVED_TABLES:
        yield f"only looked at, and wrote {reply.wrote}"
    if refused and who == "emil" and (name, method) not in ask.forged:
        ask.forged.add((name, method))
        forged = ask(who, name, method, target, form, **FORGED_HEADERS)
        if forged.status_code != rung.status or forged.wrote:
            yield f"{forged.status_code} to forged headers, wrote {forged.wrote}"


def test_the_ladder(ask: PageRequests, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = []
    for name, row in ACCESS_MATRIX.items():
        for (method, target), rungs in row.answers.items():
            for who, rung in rungs.items():
                wrong += [
                    (name, method, target, who, said) for said in mismatches(ask, name, method, target, who, rung)
                ]
        wrong += list(other_methods(ask, name))
    assert wrong == []
    with capsys.disabled():
        sys.stdout.write(
            f"\n{ask.calls} calls: {len(ACCESS_MATRIX)} addresses, {len(PEOPLE)} people, {len(METHODS)} methods\n"
        )


def other_methods(ask: PageRequests, name: str) -> Iterator[tuple[str, str, int]]:
    """What a page does not take it refuses to whoever reaches it, and writes nothing."""
    target = next(target for _, target in ACCESS_MATRIX[name].answers)
    taken = {method for method, _ in ACCESS_MATRIX[name].answers} | (
        CLASS_VIEW_METHODS if name in DJANGO_VIEWS else set()
    )
    taken |= {"HEAD"} if name in MONITORED_PAGES else set()
    for method in METHODS:
        if method not in taken:
            reply = ask("nobody" if name == "school:login" else "frida", name, method, target)
            if reply.status_code != 405 or reply.wrote:
                yield name, method, reply.status_code


def converters(pattern: URLPattern) -> set[str]:
    return {type(converter).__name__ for converter in pattern.pattern.converters.values()}


def test_counters_in_addresses_are_known() -> None:
    guessable = {name for name, pattern in url_patterns(get_resolver()) if "IntConverter" in converters(pattern)}
    assert guessable - {"lessons:draft_part"} == GUESSABLE_PAGES - {"lessons:draft_part"}


def test_a_stranger_cannot_tell_what_is_there_from_what_is_not(ask: PageRequests) -> None:
    """Status, headers and page are the same, but for the address itself and the secret of the forms."""
    compared = 0
    for name, row in ACCESS_MATRIX.items():
        for method, target in row.answers:
            there = [rung for who, rung in row.answers[method, target].items() if who in ("emil", "hugo", "nobody")]
            if target in ("", "absent", "no such", "hugo", "hugos") or not all(rung.refused for rung in there):
                continue
            for who in ("emil", "hugo", "nobody"):
                here, nowhere = (comparable_answer(ask, who, name, method, asked) for asked in (target, "absent"))
                assert here == nowhere, (name, method, target, who)
                compared += 1
    assert compared > 150


def comparable_answer(ask: PageRequests, who: str, name: str, method: str, target: str) -> tuple[object, ...]:
    reply = ask(who, name, method, target, PERMITTED_FORMS.get(name))
    address = reverse(name, args=ask.args(name, target))
    text = re.sub(r"\b[A-Za-z0-9]{64}\b", "", reply.text) + reply.get("Location", "")
    headers = {key: value for key, value in reply.items() if key not in ("Content-Length", "Location", "X-Request-ID")}
    return reply.status_code, text.replace(address, ""), headers, reply.wrote


def test_every_form_needs_its_secret(ask: PageRequests, cast: Cast) -> None:
    """Without the secret nothing is written, whoever sends it."""
    client = Client(enforce_csrf_checks=True)
    tried = 0
    for who in (None, cast.amelia, cast.frida):
        if who:
            client.force_login(who)
            ask.wrote()  # the moment of logging in
        for name, row in ACCESS_MATRIX.items():
            for method, target in row.answers:
                if method == "GET":
                    continue
                reply = client.post(reverse(name, args=ask.args(name, target)), PERMITTED_FORMS.get(name, {}))
                assert reply.status_code == 403, name
                assert "out of date" in reply.text, name
                assert not ask.wrote(), name
                tried += 1
    assert tried > 200


def test_a_student_reads_their_signed_lesson_and_no_other(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    for who, status in (("dora", 200), ("emil", 404)):
        client.force_login(getattr(cast, who))
        assert client.get(f"/lessons/{lesson.uid}/").status_code == status


def test_a_signed_lesson_is_not_written_in_any_more(cast: Cast, client: Client) -> None:
    lesson = fly_lesson(cast)
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/entries/", {"lesson.remarks": "later"})
    assert reply.status_code == 403
    assert "signed and final" in reply.text


def test_an_instructor_records_the_knowledge_test_and_endorses(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=1)
    client.force_login(cast.bert)
    page = f"/students/{cast.enrolment.uid}/"
    test = {
        "taken_on": cast.today,
        "topics": ["rules", "aerodrome", "make_and_model"],
        "questions": 40,
        "wrong": 41,
        "title": "Pre-solo",
    }
    refused = client.post(page + "written-test/", test)
    assert refused.status_code == 422
    assert "41 wrong answers to 40 questions cannot be" in refused.text
    test |= {"wrong": 2, "reviewed_on": cast.today}
    assert client.post(page + "written-test/", test).status_code == 302
    words = {"on": cast.today, "text": "Proficient.", "secret": "guess"}
    assert client.post(page + "tailwheel/", words).status_code == 422
    assert client.post(page + "tailwheel/", words | {"secret": SECRET}).status_code == 302
    text = client.get(page).text
    assert "taken and reviewed" in text
    assert "endorsed" in text


def test_logging_in_with_a_wrong_password_keeps_the_name(cast: Cast, client: Client) -> None:
    reply = client.post("/login/", {"username": "bert", "password": "wrong"})
    assert 'value="bert"' in reply.text
    assert "do not match" in reply.text
    assert client.post("/login/", {"username": "Bert", "password": SECRET}).status_code == 302


def lessons_of_both(cast: Cast, days: int) -> tuple[Lesson, Lesson]:
    for day in range(days):
        made = fly_lesson(cast, circuits=2, days_ago=day)
        fly_lesson(cast, circuits=1, days_ago=day, enrolment=cast.other_enrolment)
    return made, begin_lesson(cast)


@shared_state
def one_lesson_each(cast: Cast) -> tuple[Lesson, Lesson]:
    return lessons_of_both(cast, 1)


@shared_state
def three_lessons_each(cast: Cast) -> tuple[Lesson, Lesson]:
    return lessons_of_both(cast, 3)


QUERIES = pytest.mark.parametrize(
    ("who", "page", "queries"),
    [
        ("amelia", "/students/", 14),
        ("frida", "/records/", 9),
        ("frida", "/records/{enrolment}/erasure/", 12),
        ("amelia", "/students/{enrolment}/", 9),
        ("bert", "/students/{enrolment}/", 5),
        ("dora", "/me/", 6),
        ("bert", "/lessons/", 12),
        # The findings of the student beside their lessons, papers and sheets: eleven tables read by its rules.
        ("frida", "/records/{enrolment}/", 27),
        ("frida", "/findings/", 16),
        ("bert", "/findings/", 16),
        ("frida", "/journal/", 9),
        ("dora", "/me/journal/", 6),
        ("frida", "/lessons/{lesson}/taps/", 5),
        # One of them asks whether the lesson is still being written by who looks at it.
        ("bert", "/lessons/{lesson}/", 13),
        # Once drawn, a signed lesson's circuits are kept: who asks, the lesson, the versions of what they rest on.
        ("bert", "/lessons/{lesson}/circuits/", 5),
        ("dora", "/lessons/{lesson}/circuits/1/", 5),
        ("bert", "/lessons/{begun}/circuits/", 9),
        # Kept whole under the versions of what it rests on, and under the verdict of the student.
        ("bert", "/lessons/{begun}/", 6),
    ],
)


@QUERIES
def test_queries_of_a_page(
    cast: Cast, client: Client, one_lesson_each: tuple[Lesson, Lesson], who: str, page: str, queries: int
) -> None:
    assert_query_count(client, cast, one_lesson_each, who, page, queries)


@QUERIES
def test_queries_do_not_grow_with_the_rows(
    cast: Cast, client: Client, three_lessons_each: tuple[Lesson, Lesson], who: str, page: str, queries: int
) -> None:
    assert_query_count(client, cast, three_lessons_each, who, page, queries)


def assert_query_count(
    client: Client, cast: Cast, lessons: tuple[Lesson, Lesson], who: str, page: str, queries: int
) -> None:
    signed, begun = lessons
    client.force_login(getattr(cast, who))
    url = page.format(enrolment=cast.enrolment.uid, lesson=signed.uid, begun=begun.uid)
    client.get(url)
    with CaptureQueriesContext(connection) as asked:
        reply = client.get(url)
    assert len(asked) == queries, "\n".join(query["sql"] for query in asked.captured_queries)
    assert reply.status_code == 200
    assert len(re.findall(r"<h1[ >]", reply.text)) == 1


@pytest.mark.parametrize("lessons", [1, 3])
@pytest.mark.parametrize(
    ("who", "page", "queries"),
    [
        # The verdict rests on thirteen tables (papers, tests, endorsements, what was set aside, lessons, circuits,
        # attempts, numbers, grades, credits, earlier evidence, moves, the standard), each found by an index; joined,
        # their rows would multiply. Beside them: a lock, the writing, and what a page shows besides.
        ("amelia", "/students/{enrolment}/", 33),
        ("dora", "/me/", 32),
        ("bert", "/lessons/{begun}/", 40),
    ],
)
def test_queries_of_the_first_look_after_a_change_do_not_grow_either(
    cast: Cast, client: Client, django_assert_num_queries: Callable, who: str, page: str, queries: int, lessons: int
) -> None:
    client.force_login(getattr(cast, who))
    url = page.format(enrolment=cast.enrolment.uid, begun=begin_lesson(cast).uid)
    client.get(url)
    for day in range(lessons):
        fly_lesson(cast, circuits=2, days_ago=day)
    with django_assert_num_queries(queries):
        assert client.get(url).status_code == 200
