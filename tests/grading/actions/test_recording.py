"""Recording a lesson tap by tap, signing it, and what is refused afterwards."""

import uuid

import pytest
from bs4 import BeautifulSoup
from django.db import DatabaseError, connection, transaction
from django.test import Client

from grading.actions import corrections, recording, signing
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.models import Attempt, Grade, Seal, Signature, Tap
from grading.reading.grade_lines import load_attempts, load_grading_context, measured_deviation
from lessons.models import Circuit, Lesson
from school.actions import void_paper
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.page_requests import send_entry


def test_a_tap_is_kept_at_once_with_what_stood_before(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice"})
    record_entries(cast, lesson, **{"circuit.1.landing.level": "perform"})
    attempt = Attempt.objects.get(lesson=lesson, part="landing")
    assert attempt.level == "perform"
    assert list(Tap.objects.order_by("id").values_list("before", "after")) == [
        ("", "practice"),
        ("practice", "perform"),
    ]


def test_power_and_propeller_are_noted_at_the_gate_that_has_them(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    numbers = {"abeam.power": "20.5", "abeam.propeller": "2350"}
    record_entries(cast, lesson, **{f"circuit.1.downwind.measure.{name}": text for name, text in numbers.items()})
    attempt, context = load_attempts(lesson)[0], load_grading_context(lesson)
    assert [measured_deviation(row, context).words for row in attempt.preloaded_measures] == [
        "power abeam the point 3.5 inHg high, outside, within twice the tolerance",
        "propeller abeam the point 50 rpm high, inside",
    ]
    with pytest.raises(Refusal, match="not a unit of power"):
        record_entries(cast, lesson, **{"circuit.1.downwind.measure.abeam.power": "20 kt"})


def test_a_tap_sent_twice_is_applied_once(cast: Cast) -> None:
    lesson, uid = begin_lesson(cast), uuid.uuid4()
    for _ in range(2):
        recording.apply_tap(
            lesson=lesson, field="circuit.1.landing.level", value="perform", by=cast.bert, at=cast.at(), uid=uid
        )
    assert Tap.objects.count() == 1


def test_undo_takes_back_tap_after_tap(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.landing.level": "practice"})
    record_entries(cast, lesson, **{"circuit.1.landing.fault.bounced": "on", "lesson.wind_speed_kt": "12"})
    for _ in range(2):
        recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at())
    attempt = Attempt.objects.get(part="landing")
    lesson.refresh_from_db()
    assert (attempt.level, attempt.faults_seen.count(), lesson.wind_speed_kt) == ("practice", 0, None)
    recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at())
    assert not Circuit.objects.exists()  # nothing is left of it, so it counts no landing
    assert recording.undo_tap(lesson=lesson, by=cast.bert, at=cast.at()) is None


def test_no_level_is_ever_preset(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"circuit.2.takeoff.help": "none", "circuit.2.ending": "touch_and_go"})
    assert not Attempt.objects.filter(circuit__number=2).exclude(level=None).exists()


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("circuit.7.landing.level", "perform", "not an entry"),
        ("circuit.1.landing.level", "excellent", "not an entry"),
        ("circuit.1.landing.fault.no-such", "on", "not an entry"),
        ("circuit.1.approach.measure.final.speed", "fast", "not a number"),
        ("lesson.dual_minutes", "two", "not a time in hours"),
        ("lesson.off_blocks", "25:00", "not a time"),
        ("lesson.wind_direction", "400", "direction"),
        ("lesson.signed_at", "now", "not an entry"),
        ("nonsense", "", "not an entry"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence_and_writes_nothing(
    cast: Cast, field: str, value: str, sentence: str
) -> None:
    lesson = begin_lesson(cast)
    with pytest.raises(Refusal, match=sentence):
        record_entries(cast, lesson, **{field: value})
    assert not Tap.objects.exists()
    assert not Circuit.objects.exists()


def test_signing_lists_what_is_missing_then_makes_it_final(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    with pytest.raises(Refusal, match=r"hours flown.*Takeoff, Downwind, Approach, Landing"):
        sign_lesson(cast, lesson)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.2"})
    record_circuit(cast, lesson, 1, **{"landing.help": "prompted"})
    with pytest.raises(Refusal, match="Wrong password"):
        signing.sign_lesson(lesson=lesson, secret="guess", by=cast.bert, at=cast.at())
    sign_lesson(cast, lesson)
    grade = Grade.objects.get(lesson=lesson, manoeuvre__code="landing")
    assert (grade.proposed, grade.given, grade.explanation) == ("practice", "practice", "Practice: with a prompt.")
    signature = Signature.objects.get(lesson=lesson)
    # 14 CFR 61.51(h)(2)(ii): signature, certificate number, expiry or recent-experience end date
    assert (signature.name, signature.certificate_number) == ("Bert Example", "C-2")
    assert signature.certificate_valid.startswith("recent experience until")
    assert (lesson.takeoffs, lesson.landings, lesson.dual_minutes) == (1, 1, 72)
    assert JournalEntry.objects.filter(what="lesson signed").exists()
    with pytest.raises(Refusal, match="final"):
        record_entries(cast, lesson, **{"circuit.1.landing.level": "perform"})


def test_a_changed_grade_keeps_both_values(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"grade.landing": "practice"})
    sign_lesson(cast, lesson)
    grade = Grade.objects.get(lesson=lesson, manoeuvre__code="landing")
    assert (grade.proposed, grade.given, grade.changed) == ("perform", "practice", True)


def test_only_the_instructor_of_a_lesson_writes_in_it(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    with pytest.raises(Refusal, match="Only the instructor"):
        recording.apply_tap(lesson=lesson, field="lesson.remarks", value="x", by=cast.cleo, at=cast.at())


def test_no_certificate_no_signature(cast: Cast) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    void_paper(paper=cast.bert.papers.get(), reason="never shown", by=cast.frida, at=cast.at(10))
    with pytest.raises(Refusal, match="certificate"):
        sign_lesson(cast, lesson)


def test_the_student_acknowledges_once_or_refuses_with_a_remark(cast: Cast) -> None:
    first, second = fly_lesson(cast, days_ago=1), fly_lesson(cast)
    with pytest.raises(Refusal, match="Write why"):
        signing.acknowledge_lesson(lesson=second, secret=SECRET, by=cast.dora, at=cast.at(), refuse=True)
    signing.acknowledge_lesson(lesson=first, secret=SECRET, by=cast.dora, at=cast.at())
    signing.acknowledge_lesson(
        lesson=second, secret=SECRET, by=cast.dora, at=cast.at(), refuse=True, remark="I flew two."
    )
    assert [row.act for row in Signature.objects.filter(capacity="student").order_by("pk")] == ["signed", "refused"]
    with pytest.raises(Refusal, match="already"):
        signing.acknowledge_lesson(lesson=first, secret=SECRET, by=cast.dora, at=cast.at())
    with pytest.raises(Refusal, match="Only the student"):
        signing.acknowledge_lesson(lesson=first, secret=SECRET, by=cast.emil, at=cast.at())


def test_a_correction_is_a_new_version_and_both_stay(cast: Cast) -> None:
    lesson = fly_lesson(cast, 2, level="practice")
    version = corrections.begin_correction(
        lesson=lesson, reason="Landing 2 was to standard", by=cast.bert, at=cast.at()
    )
    assert Attempt.objects.filter(lesson=version).count() == Attempt.objects.filter(lesson=lesson).count()
    record_entries(cast, version, **{"circuit.2.landing.level": "perform"})
    assert list(Lesson.objects.signed().current()) == [lesson]
    sign_lesson(cast, version)
    assert list(Lesson.objects.signed().current()) == [version]
    assert Attempt.objects.get(lesson=lesson, circuit__number=2, part="landing").level == "practice"


def test_a_correction_keeps_the_grade_the_instructor_decided(cast: Cast) -> None:
    """The landing's grade was set against its proposal: it stays. The takeoff's followed it: it follows again."""
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    record_entries(cast, lesson, **{"grade.landing": "practice"})
    sign_lesson(cast, lesson)
    version = corrections.begin_correction(lesson=lesson, reason="Mistyped.", by=cast.bert, at=cast.at())
    record_entries(cast, version, **{"circuit.1.takeoff.level": "explain"})
    sign_lesson(cast, version)
    given = dict(Grade.objects.filter(lesson=version).values_list("manoeuvre__code", "given"))
    assert (given["landing"], given["takeoff"]) == ("practice", "explain")
    assert Grade.objects.get(lesson=version, manoeuvre__code="landing").proposed == "perform"


def run_sql(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


FORBIDDEN_STATEMENTS = [
    "UPDATE lessons_lesson SET remarks = 'x'",
    "DELETE FROM lessons_lesson",
    "UPDATE lessons_circuit SET number = 9",
    "DELETE FROM lessons_circuit",
    "UPDATE grading_attempt SET level = 'perform'",
    "DELETE FROM grading_attempt",
    "UPDATE grading_grade SET given = 'perform'",
    "DELETE FROM grading_tap",
    "DELETE FROM grading_faultseen",
    "UPDATE grading_measure SET value = 0",
    "UPDATE grading_signature SET name = 'x'",
    "DELETE FROM grading_signature",
    "UPDATE grading_seal SET canonical = '{}'",
    "DELETE FROM grading_seal",
    "UPDATE school_journalentry SET what = 'x'",
    "DELETE FROM school_journalentry",
    "TRUNCATE grading_seal CASCADE",
    "TRUNCATE lessons_lesson CASCADE",
    "TRUNCATE school_journalentry",
]


@pytest.mark.parametrize("sql", FORBIDDEN_STATEMENTS)
def test_the_database_refuses_to_change_what_is_signed(cast: Cast, sql: str) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    numbers = {"approach.measure.final.speed": "70", "landing.fault.bounced": "on"}
    record_circuit(cast, lesson, 1, **numbers)
    sign_lesson(cast, lesson)
    with pytest.raises(DatabaseError, match=r"final|signed"), transaction.atomic():
        run_sql("SET CONSTRAINTS ALL IMMEDIATE; " + sql)


def test_nothing_can_be_added_to_a_signed_lesson(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    with pytest.raises(DatabaseError, match="signed"), transaction.atomic():
        Circuit.objects.create(lesson=lesson, number=2, ending="full_stop")


def test_the_chain_shows_an_altered_and_a_missing_record(cast: Cast) -> None:
    for day in (3, 2, 1):
        fly_lesson(cast, days_ago=day)
    assert first_broken_link(iterate_chain()) is None
    links = list(iterate_chain())
    links[1].canonical = links[1].canonical.replace("perform", "explain")
    broken = first_broken_link(iter(links))
    assert broken is not None
    assert (broken.number, "altered" in broken.why) == (2, True)
    without = [link for link in iterate_chain() if link.number != 2]
    missing = first_broken_link(iter(without))
    assert missing is not None
    assert "missing" in missing.why


def test_sealed_record_holds_what_was_taught(cast: Cast) -> None:
    fly_lesson(cast)
    text = Seal.objects.get().canonical
    for said in ("Dora Example", "Bert Example", "C-2", "QQ-XXA", '"dual":60', '"level":"perform"'):
        assert said in text


@pytest.fixture
def bert(cast: Cast, client: Client) -> Client:
    client.force_login(cast.bert)
    return client


def test_a_refused_tap_says_why_and_keeps_the_page(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    reply = bert.post(f"/lessons/{lesson.uid}/entries/", {"lesson.dual_minutes": "two"})
    assert reply.status_code == 422
    assert "“two” is not a time in hours: write 1.2 or 1:12." in reply.text


def test_the_plain_form_records_a_whole_circuit(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    sent = {
        "circuit": "1",
        "circuit.1.takeoff.level": "perform",
        "circuit.1.landing.level": "practice",
        "circuit.1.landing.help": "prompted",
        "circuit.1.landing.fault.bounced": ["", "on"],
        "circuit.1.landing.fault.floated": "",
        "circuit.1.closed": "on",
    }
    reply = bert.post(f"/lessons/{lesson.uid}/entries/", sent)
    assert reply.status_code == 302
    page = bert.get(f"/lessons/{lesson.uid}/").text
    assert "Circuit 2" in page
    assert "Practice, prompted" in page
    landing = Attempt.objects.get(part="landing")
    assert [seen.fault.code for seen in landing.faults_seen.all()] == ["bounced"]


@pytest.mark.parametrize(
    ("entries", "said"),
    [
        (
            {"wind_direction": "270", "wind_speed_kt": "10", "wind_gust_kt": "25"},
            "Crosswind including gusts exceeds the 12 kt",
        ),
        ({"wind_speed_kt": "10", "wind_gust_kt": "25"}, "up to 25 kt across any runway"),
    ],
)
def test_the_brief_cautions_of_gusts_and_of_a_variable_wind(
    cast: Cast, bert: Client, entries: dict[str, str], said: str
) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{f"lesson.{name}": value for name, value in entries.items()})
    assert said in bert.get(f"/lessons/{lesson.uid}/").text


def test_a_closed_go_around_counts_no_landing_in_the_swap_and_on_the_fresh_page(cast: Cast, bert: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"circuit.1.takeoff.level": "perform", "circuit.1.ending": "go_around"})
    swap = send_entry(bert, lesson, "circuit.1.closed", "on")["html"]
    for text in (swap, bert.get(f"/lessons/{lesson.uid}/").text):
        found = BeautifulSoup(text, "html.parser").find(id="counted")
        assert found is not None
        assert "1 and 0 so far" in found.text
