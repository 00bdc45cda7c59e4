"""Who reaches what: each page for each of the cast, and the number of queries of each list."""

import re
import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from grading.actions import sheets
from lessons import actions, publishing
from school.models import Paper
from tests.cast import SECRET, Cast
from tests.factories import begin, flown

PEOPLE = ("amelia", "bert", "cleo", "dora", "emil", "frida", None)
STAFF = {"amelia": 200, "bert": 200, "cleo": 200, "frida": 200, "dora": 403, "emil": 403, None: 302}
KEEPER = {"amelia": 403, "bert": 403, "cleo": 403, "frida": 200, "dora": 403, "emil": 403, None: 302}

CHIEF = {"amelia": 200, "bert": 403, "cleo": 403, "frida": 403, "dora": 403, "emil": 403, None: 302}
TEACHER = STAFF | {"frida": 403, "emil": 404}

# name of the page -> (method, status for each of the cast). Dora's things are asked for.
LADDER: dict[str, tuple[str, dict[str | None, int]]] = {
    "school:login": ("GET", dict.fromkeys(PEOPLE, 302) | {None: 200}),
    "school:logout": ("POST", dict.fromkeys(PEOPLE, 302)),
    "school:light": ("POST", dict.fromkeys(PEOPLE, 302)),
    "school:key_to_marks": ("GET", dict.fromkeys(PEOPLE, 200)),
    "grading:lessons": ("GET", STAFF),
    "grading:begin_lesson": (
        "GET",
        TEACHER,
    ),
    "grading:discard_lesson": (
        "POST",
        {"amelia": 403, "bert": 302, "cleo": 403, "frida": 403, "dora": 404, "emil": 404, None: 302},
    ),
    "lessons:gates": ("GET", STAFF),
    "lessons:gate_set": ("GET", STAFF),
    "lessons:edit_gates": ("GET", CHIEF),
    "lessons:discard_gates": ("POST", CHIEF | {"amelia": 302}),
    "lessons:syllabuses": ("GET", STAFF),
    "lessons:syllabus": ("GET", STAFF),
    "lessons:syllabus_file": ("GET", STAFF),
    "lessons:syllabus_schema": ("GET", STAFF),
    "lessons:take_in_syllabus": ("GET", CHIEF),
    "lessons:begin_draft": ("POST", CHIEF | {"amelia": 302}),
    "lessons:syllabus_draft": ("GET", CHIEF),
    "lessons:draft_part": ("GET", CHIEF),
    "lessons:publish_draft": ("POST", CHIEF | {"amelia": 302}),
    "lessons:discard_draft": ("POST", CHIEF | {"amelia": 302}),
    "lessons:move_student": ("GET", CHIEF | {"emil": 404}),
    "grading:home": ("GET", dict.fromkeys(PEOPLE, 302)),
    "grading:own_progress": ("GET", dict.fromkeys(PEOPLE, 200) | {None: 302}),
    "grading:board": ("GET", STAFF),
    "grading:standard": ("GET", STAFF),
    "grading:board_csv": ("GET", STAFF),
    "grading:readiness": ("GET", STAFF | {"emil": 404}),
    "grading:set_aside": (
        "POST",
        {"amelia": 422, "bert": 403, "cleo": 403, "frida": 403, "dora": 403, "emil": 404, None: 302},
    ),
    "grading:ask_again": (
        "POST",
        {"amelia": 404, "bert": 403, "cleo": 403, "frida": 403, "dora": 403, "emil": 404, None: 302},
    ),
    "grading:release": (
        "POST",
        {"amelia": 422, "bert": 403, "cleo": 403, "frida": 403, "dora": 403, "emil": 404, None: 302},
    ),
    "grading:written_test": ("GET", TEACHER),
    "grading:review_test": ("POST", TEACHER | {"amelia": 302, "bert": 302, "cleo": 302}),
    "grading:tailwheel_endorsement": (
        "GET",
        TEACHER,
    ),
    "grading:solo_endorsement": ("GET", TEACHER),
    "grading:withdraw_release": ("POST", dict.fromkeys(PEOPLE, 404) | {None: 302}),
    "grading:lesson": (
        "GET",
        {"amelia": 200, "bert": 200, "cleo": 200, "frida": 200, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:entries": (
        "POST",
        {"amelia": 403, "bert": 302, "cleo": 403, "frida": 403, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:undo": (
        "POST",
        {"amelia": 403, "bert": 302, "cleo": 403, "frida": 403, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:sign": (
        "POST",
        {"amelia": 403, "bert": 422, "cleo": 403, "frida": 403, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:acknowledge": (
        "POST",
        {"amelia": 422, "bert": 422, "cleo": 422, "frida": 422, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:correct": (
        "POST",
        {"amelia": 422, "bert": 422, "cleo": 422, "frida": 422, "dora": 404, "emil": 404, None: 302},
    ),
    "grading:records": ("GET", KEEPER),
    "grading:enrol_student": ("GET", KEEPER),
    "grading:student_record": ("GET", KEEPER),
    "grading:add_paper": ("POST", KEEPER | {"frida": 422}),
    "grading:void_paper": ("POST", KEEPER | {"frida": 422}),
    "grading:print_sheet": ("POST", KEEPER | {"frida": 422}),
    "grading:sheet_pdf": (
        "GET",
        {"amelia": 200, "bert": 200, "cleo": 200, "frida": 200, "dora": 200, "emil": 404, None: 302},
    ),
}


def names(resolver: URLResolver, space: str = "") -> list[str]:
    found = []
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            found += names(entry, f"{entry.namespace}:" if entry.namespace else space)
        elif isinstance(entry, URLPattern) and entry.name:
            found.append(space + entry.name)
    return found


def test_every_page_stands_in_the_ladder() -> None:
    assert sorted(names(get_resolver())) == sorted(LADDER)


@pytest.fixture
def address(cast: Cast) -> Callable[[str], str]:
    lesson = begin(cast)
    paper = Paper.objects.create(
        person=cast.dora, kind="english", issued=cast.today, recorded_at=cast.at(), recorded_by=cast.frida
    )
    test = actions.record_knowledge_test(
        enrolment=cast.enrolment, aircraft_type=cast.type, taken_on=cast.today, topics=[], questions=20, wrong=3,
        reviewed_on=None, given_by=cast.bert, by=cast.bert, at=cast.at(),
    )  # fmt: skip
    sheet = sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.frida, at=cast.at()
    )

    def of(name: str) -> str:
        page = name.split(":")[1]
        if page in ("gate_set", "edit_gates", "discard_gates"):
            return reverse(name, args=[cast.type.code])
        if page in ("syllabus", "begin_draft"):
            return reverse(name, args=[cast.enrolment.syllabus_id])
        if page == "syllabus_file":
            return reverse(name, args=[cast.enrolment.syllabus_id, "yaml"])
        if page in ("syllabus_draft", "publish_draft", "discard_draft", "draft_part"):
            draft = publishing.begin_draft(syllabus=cast.enrolment.syllabus, by=cast.amelia, at=cast.at())
            return reverse(name, args=[draft.pk, "units", 0] if page == "draft_part" else [draft.pk])
        if page == "review_test":
            return reverse(name, args=[cast.enrolment.uid, test.pk])
        if page in ("withdraw_release",):
            return reverse(name, args=[uuid.uuid4()])
        if page == "sheet_pdf":
            return reverse(name, args=[sheet.uid])
        if page == "void_paper":
            return reverse(name, args=[paper.pk])
        if page == "ask_again":
            return reverse(name, args=[cast.enrolment.uid, "second_instructor"])
        if page in ("lesson", "entries", "undo", "sign", "acknowledge", "correct", "discard_lesson"):
            return reverse(name, args=[lesson.uid])
        try:
            return reverse(name)
        except Exception as error:
            if "Reverse for" not in str(error):
                raise
            return reverse(name, args=[cast.enrolment.uid])

    return of


def test_the_ladder(cast: Cast, address: Callable[[str], str]) -> None:
    wrong = []
    # Discarding removes the lesson the others are asked for, so it comes last.
    for name in sorted(LADDER, key=lambda name: name == "grading:discard_lesson"):
        method, expected = LADDER[name]
        for who in sorted(PEOPLE, key=lambda who: who == "bert"):  # who removes it comes last
            client = Client()
            if who:
                client.force_login(getattr(cast, who))
            reply = client.generic(method, address(name))
            if reply.status_code != expected[who]:
                wrong.append((name, who, reply.status_code, expected[who]))
            if who is None and reply.status_code == 302 and not name.startswith("school:"):
                assert reply.headers["Location"].startswith("/login/")
        wrong_method = Client()
        if name != "school:login":  # a person who is logged in is sent on from there
            wrong_method.force_login(cast.frida)
        assert wrong_method.delete(address(name)).status_code == 405, name
        if name == "grading:discard_lesson":
            break
    assert wrong == []


def test_a_student_reads_their_signed_lesson_and_no_other(cast: Cast, client: Client) -> None:
    lesson = flown(cast)
    for who, status in (("dora", 200), ("emil", 404)):
        client.force_login(getattr(cast, who))
        assert client.get(f"/lessons/{lesson.uid}/").status_code == status


def test_a_signed_lesson_is_not_written_in_any_more(cast: Cast, client: Client) -> None:
    lesson = flown(cast)
    client.force_login(cast.bert)
    reply = client.post(f"/lessons/{lesson.uid}/entries/", {"lesson.remarks": "later"})
    assert reply.status_code == 403
    assert "signed and final" in reply.text


def test_an_instructor_records_the_knowledge_test_and_endorses(cast: Cast, client: Client) -> None:
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
    assert "do not belong together" in reply.text
    assert client.post("/login/", {"username": "Bert", "password": SECRET}).status_code == 302


@pytest.mark.parametrize("lessons", [1, 3])
@pytest.mark.parametrize(
    ("who", "page", "queries"),
    [
        ("amelia", "/students/", 9),
        ("amelia", "/students/{enrolment}/", 17),
        ("dora", "/me/", 17),
        ("bert", "/lessons/", 10),
        ("frida", "/records/", 7),
        ("frida", "/records/{enrolment}/", 7),
        ("bert", "/lessons/{lesson}/", 12),
        ("bert", "/lessons/{begun}/", 25),
    ],
)
def test_queries_do_not_grow_with_the_rows(
    cast: Cast, client: Client, django_assert_num_queries: Callable, who: str, page: str, queries: int, lessons: int
) -> None:
    for day in range(lessons):
        made = flown(cast, circuits=2, days_ago=day)
        flown(cast, circuits=1, days_ago=day, enrolment=cast.other_enrolment)
    client.force_login(getattr(cast, who))
    url = page.format(enrolment=cast.enrolment.uid, lesson=made.uid, begun=begin(cast).uid)
    client.get(url)
    with django_assert_num_queries(queries):
        reply = client.get(url)
    assert reply.status_code == 200
    assert len(re.findall(r"<h1[ >]", reply.text)) == 1
