"""What counts of earlier training is decided by a person, for written reasons, and is no evidence."""

import json
from typing import Any

import pytest
from django.test import Client

from grading.actions.credit import decide_credit
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.exchange import import_table, receiving
from grading.models import Seal
from grading.reading.course_progress import courses_by_enrolment
from grading.reading.student_summary import summarise_students
from grading.rules.readiness.json_format import verdict_to_json
from grading.sheets.progress_content import build_progress_content
from lessons import moving
from lessons.earlier_training import credit_carried_forward
from lessons.loading import publish_syllabus, syllabus_form
from lessons.models import AMOUNT_FIELDS, CreditDecision, Lesson, Unit
from lessons.queries import Course
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import fly_lesson
from tests.shared_state import shared_state

HEAD = "School number,Date,Taught,Dual,Solo,Night (included),Takeoffs,Landings,Instructor,Where the paper is kept\n"
PAST = (
    HEAD
    + "T-4,2020-03-04,Exercise 4,1:12,,0.2,3,3,Old Hand,Box 3\nT-4,2020-03-06,Exercise 6,,0.5,,2,2,Old Hand,Box 3\n"
)


@shared_state
def transfer_cast(cast: Cast) -> Cast:
    """Dora brought two lessons on paper along: 72 minutes dual, 30 solo, 5 takeoffs and landings."""
    upload = receiving.save_upload(
        kind="past_lessons", name="old.csv", content=PAST.encode(), by=cast.frida, at=cast.at(8)
    )
    import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    return cast


def decide(cast: Cast, *numbers: int, hour: int = 12, days_ago: int = 0, **counted: int) -> CreditDecision:
    return decide_credit(
        enrolment=cast.enrolment,
        units={cast.units[number]: f"Logbook, unit {number}" for number in numbers},
        counted=counted,
        reason="Read in the logbook",
        by=cast.amelia,
        at=cast.at(hour, days_ago),
    )


def current_course(cast: Cast) -> Course:
    cast.enrolment.refresh_from_db()
    return courses_by_enrolment([cast.enrolment], cast.today)[cast.enrolment.pk]


def test_a_credited_unit_is_complete_and_says_why(transfer_cast: Cast) -> None:
    assert current_course(transfer_cast).current_unit.number == 1
    decide(transfer_cast, 1, 2)
    now = current_course(transfer_cast)
    assert now.current_unit.number == 3
    assert [(row.unit.number, row.credited, row.is_earned) for row in now.credited] == [
        (1, "Logbook, unit 1", False),
        (2, "Logbook, unit 2", False),
    ]
    assert [division["state"] for division in now.band[:4]] == ["credited", "credited", "here", "ahead"]
    states = [unit["state"] for unit in build_progress_content(transfer_cast.enrolment, transfer_cast.today)["course"]]
    assert states[:3] == ["credited", "credited", "here"]


def test_a_unit_that_was_flown_here_to_its_levels_is_not_called_credited(transfer_cast: Cast) -> None:
    fly_lesson(transfer_cast, circuits=3)
    earned = [row.unit.number for row in current_course(transfer_cast).unit_progress if row.is_earned]
    assert earned == [8]
    decide(transfer_cast, 8, 1)
    assert [row.unit.number for row in current_course(transfer_cast).credited] == [1]


def test_the_decision_is_sealed_and_journaled(transfer_cast: Cast) -> None:
    made = decide(transfer_cast, 1, dual_minutes=60, landings=3)
    seal = Seal.objects.get(subject=made.uid)
    record = json.loads(seal.canonical)
    assert record["units"] == [{"number": 1, "title": transfer_cast.units[1].title, "reason": "Logbook, unit 1"}]
    assert record["brought_forward"]["dual_minutes"] == 60
    assert record["decided_by"]["name"] == "Amelia Example"
    assert first_broken_link(iterate_chain()) is None
    entry = JournalEntry.objects.get(what="earlier training credited")
    assert (entry.about_id, entry.person_id) == (transfer_cast.dora.pk, transfer_cast.amelia.pk)


def test_the_last_decision_of_a_day_is_that_days(transfer_cast: Cast) -> None:
    nothing = dict.fromkeys(AMOUNT_FIELDS, 0)
    assert credit_carried_forward(transfer_cast.enrolment, transfer_cast.today) == nothing
    decide(transfer_cast, 1, days_ago=2, dual_minutes=72, landings=5)
    decide(transfer_cast, 2, hour=13, dual_minutes=30)
    before = transfer_cast.at(0, 1).date()
    assert credit_carried_forward(transfer_cast.enrolment, before) == nothing | {"dual_minutes": 72, "landings": 5}
    assert credit_carried_forward(transfer_cast.enrolment, transfer_cast.today) == nothing | {"dual_minutes": 30}
    assert [row.unit.number for row in current_course(transfer_cast).credited] == [2]
    assert credit_carried_forward(transfer_cast.other_enrolment, transfer_cast.today) == nothing


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"by": "bert"}, "Only the chief instructor"),
        ({"reason": "  "}, "Write why these hours"),
        ({"words": " "}, "Without a reason: Unit 1"),
        ({"counted": {"dual_minutes": 73}}, "holds 72 dual minutes"),
        ({"counted": {"landings": 6}}, "holds 5 landings"),
        ({"counted": {"night_minutes": 12}}, "part of dual and solo"),
    ],
)
def test_what_has_no_reason_or_no_record_is_refused(transfer_cast: Cast, change: dict[str, Any], sentence: str) -> None:
    with pytest.raises(Refusal, match=sentence):
        decide_credit(
            enrolment=transfer_cast.enrolment,
            units={transfer_cast.units[1]: change.get("words", "Logbook")},
            counted=change.get("counted", {}),
            reason=change.get("reason", "Read"),
            by=getattr(transfer_cast, change.get("by", "amelia")),
            at=transfer_cast.at(),
        )
    assert not CreditDecision.objects.exists()


def test_without_earlier_training_nothing_is_credited(cast: Cast) -> None:
    with pytest.raises(Refusal, match="no earlier training on record"):
        decide(cast, 1)


def test_credit_is_no_evidence_for_readiness(transfer_cast: Cast) -> None:
    fly_lesson(transfer_cast, circuits=2)
    before = verdict_to_json(summarise_students([transfer_cast.enrolment], transfer_cast.today)[0].verdict)
    decide(transfer_cast, *range(1, 15), dual_minutes=72, solo_minutes=30, takeoffs=5, landings=5)
    after = summarise_students([transfer_cast.enrolment], transfer_cast.today)[0]
    assert after.course.current_unit.number == 15
    assert verdict_to_json(after.verdict) == before
    assert len(after.history.circuits) == 2


def test_a_move_to_another_issue_carries_the_credit_along(transfer_cast: Cast) -> None:
    decide(transfer_cast, 1, 2)
    form = syllabus_form(transfer_cast.enrolment.syllabus)
    renewed = {name: getattr(form, name) for name in form.__struct_fields__} | {"issue": 99}
    issue = publish_syllabus(type(form)(**renewed), published_on=transfer_cast.today)
    flown_or_credited = moving.units_to_map(transfer_cast.enrolment)
    assert [unit.number for unit in flown_or_credited] == [1, 2]
    new = Unit.objects.select_related("stage").get(stage__syllabus=issue, number=1)
    mapping = {unit: new if unit.number == 1 else None for unit in flown_or_credited}
    moving.move_enrolment(
        enrolment=transfer_cast.enrolment,
        syllabus=issue,
        mapping=mapping,
        by=transfer_cast.amelia,
        at=transfer_cast.at(15),
    )
    assert [(row.unit.pk, row.credited) for row in current_course(transfer_cast).credited] == [
        (new.pk, "Logbook, unit 1")
    ]


def test_the_chief_decides_on_a_page_and_everybody_reads_it(transfer_cast: Cast, client: Client) -> None:
    client.force_login(transfer_cast.amelia)
    page = f"/students/{transfer_cast.enrolment.uid}/credit/"
    assert "1.2 h on record" in client.get(page).text
    unit = f"unit-{transfer_cast.units[1].pk}"
    refused = client.post(page, {unit: "Seen in the logbook", "dual_minutes": "9:00", "reason": "Checked"})
    assert refused.status_code == 422
    assert "holds 72 dual minutes" in refused.text
    assert 'value="Seen in the logbook"' in refused.text
    wrong = client.post(page, {"dual_minutes": "much", "reason": "Checked"})
    assert "is not a time in hours" in wrong.text
    done = client.post(
        page, {unit: "Seen in the logbook", "dual_minutes": "1:12", "landings": "5", "reason": "Checked"}
    )
    assert done.status_code == 302
    assert 'value="1:12"' in client.get(page).text
    student = f"/people/{transfer_cast.dora.pk}/earlier-training/"
    for who, where in (
        ("amelia", student),
        ("dora", student),
        ("dora", "/me/"),
        ("bert", f"/students/{transfer_cast.enrolment.uid}/"),
        ("frida", f"/records/{transfer_cast.enrolment.uid}/"),
    ):
        client.force_login(getattr(transfer_cast, who))
        assert "Seen in the logbook" in client.get(where).text, where
    assert "No earlier lesson counts as evidence" in client.get(student).text
    client.force_login(transfer_cast.frida)
    assert "Brought forward" in client.get(f"/records/{transfer_cast.enrolment.uid}/").text
    assert not Lesson.objects.exists()


@pytest.mark.parametrize("units", [1, 9])
def test_the_page_of_the_decision_takes_the_same_queries(
    transfer_cast: Cast, client: Client, units: int, django_assert_num_queries: Any
) -> None:
    decide(transfer_cast, *range(1, units + 1))
    client.force_login(transfer_cast.amelia)
    page = f"/students/{transfer_cast.enrolment.uid}/credit/"
    client.get(page)
    with django_assert_num_queries(11):
        assert client.get(page).status_code == 200
