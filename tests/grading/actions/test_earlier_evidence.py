"""Earlier lessons with grades are evidence only as far as the chief instructor decides, and say so everywhere."""

import json
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from grading.actions.earlier_evidence import decide_earlier_evidence
from grading.evidence.chain import first_broken_link, iterate_chain
from grading.exchange import import_table, receiving
from grading.models import EarlierEvidence, ReceivedRecord, Seal
from grading.reading.earlier_evidence import brought_lessons
from grading.reading.facts import facts_for
from grading.reading.student_summary import summarise_students
from grading.reading.verdict_cache import get_or_derive_one
from grading.rules.readiness.verdict import Outcome, State, Verdict
from grading.sheets.complete_content import build_complete_content
from school.errors import Refusal
from school.models import JournalEntry
from tests.cast import Cast
from tests.factories import fly_lesson
from tests.shared_state import shared_state

HEAD = (
    "School number,Date,Taught,Dual,Ground instruction,Landings,Aircraft,Instructor,Where the paper is kept,"
    "Takeoff grade,Landing grade,Other grades\n"
)
# Ten graded lessons, then one in an aircraft of another school, one on the ground, and one without a grade.
PAST = HEAD + "".join(
    [
        *(f"T-4,2020-03-{day:02d},Circuits,1:00,,1,QQ-XXA,Old Hand,Box 3,Perform,perform,\n" for day in range(1, 11)),
        "T-4,2020-04-01,Circuits,1:00,,1,QQ-ZZZ,Old Hand,Box 3,Perform,Perform,\n",
        "T-4,2020-04-02,Rules,,1:00,,,Old Hand,Box 3,,,\n",
        "T-4,2020-04-03,Stalls,1:00,,1,QQ-XXA,Old Hand,Box 3,,,stalls: Practice; slip: Explain\n",
    ]
)


@shared_state
def changed_cast(cast: Cast) -> Cast:
    """Dora changed to this record in mid-course: thirteen lessons on paper."""
    content = PAST.encode()
    upload = receiving.save_upload(kind="past_lessons", name="old.csv", content=content, by=cast.frida, at=cast.at(8))
    assert import_table.plan_import("past_lessons", content, cast.today).problems == []
    import_table.import_table(upload=upload, on=cast.today, by=cast.frida, at=cast.at(9))
    return cast


def decide(cast: Cast, count: int, by: Any = None, hour: int = 12) -> EarlierEvidence:
    return decide_earlier_evidence(
        enrolment=cast.enrolment, count=count, reason=" Read in the old book ", by=by or cast.amelia, at=cast.at(hour)
    )


def verdict_of(cast: Cast) -> Verdict:
    return summarise_students([cast.enrolment], cast.today)[0].verdict


def outcome(cast: Cast, key: str = "landings_to_standard") -> Outcome:
    return next(row for row in verdict_of(cast).requirements if row.key == key)


def test_nothing_counts_until_it_is_decided_and_then_only_for_the_parts(changed_cast: Cast) -> None:
    cast = changed_cast
    before = verdict_of(cast)
    assert facts_for(cast.enrolment, cast.today).brought_forward is None
    obstacles = [(row.lesson.unit, row.obstacle) for row in brought_lessons(cast.enrolment)]
    assert obstacles[:3] == [
        ("Stalls", "no grade of a part of the circuit"),
        ("Rules", "no grade of a part of the circuit"),
        ("Circuits", "its aircraft is not on record here, so its type is not known"),
    ]
    assert obstacles[3:] == [("Circuits", "")] * 10

    decide(cast, 10)
    after = verdict_of(cast)
    changed = {new.key for old, new in zip(before.requirements, after.requirements, strict=True) if old != new}
    assert changed == {"takeoffs_to_standard", "landings_to_standard"}
    assert all(row.kind == "school" for row in after.requirements if row.key in changed)
    landings = outcome(cast)
    assert (landings.state, landings.since) == (State.MET, cast.today)
    assert landings.how_far == "10 of the last 10, 10 brought forward"
    texts = [row.text for row in landings.evidence]
    assert texts[-1].startswith("10 of 10 brought forward from 10 earlier lessons, by decision of Amelia Example, ")
    assert texts[-1].endswith(": Read in the old book")
    assert texts[0] == "From: lesson brought forward, given by Old Hand, 1 Mar 2020"
    assert all((row.lesson, row.circuit, row.id) == (None, None, "") for row in landings.evidence)
    # Circuits, numbers and faults of this record stay those that were signed here.
    assert summarise_students([cast.enrolment], cast.today)[0].history.circuits == ()


def test_what_is_signed_here_is_newer_than_all_that_was_brought(changed_cast: Cast) -> None:
    cast = changed_cast
    decide(cast, 9)
    fly_lesson(cast, circuits=1, level="practice")
    landings = outcome(cast)
    assert landings.state is State.OPEN
    assert landings.how_far == "9 of the last 10, 9 brought forward, the newest not"


def test_a_decision_is_sealed_replaced_and_never_altered(changed_cast: Cast) -> None:
    cast = changed_cast
    first = decide(cast, 10)
    seal = Seal.objects.get(subject=first.uid)
    sealed = json.loads(seal.canonical)
    assert (sealed["record"], len(sealed["brought_forward"]), sealed["reason"]) == (
        "earlier lessons as evidence",
        10,
        "Read in the old book",
    )
    assert sealed["brought_forward"][0]["on"] == "2020-03-10"
    assert JournalEntry.objects.filter(what="earlier lessons counted as evidence", about_id=cast.dora.pk).count() == 1
    stored = get_or_derive_one(cast.enrolment, cast.today)
    assert stored is not None
    decide(cast, 0, hour=13)
    assert outcome(cast).state is State.OPEN
    assert facts_for(cast.enrolment, cast.today).brought_forward is None
    assert first_broken_link(iterate_chain()) is None
    for harm in (lambda: EarlierEvidence.objects.update(reason="x"), lambda: first.delete()):
        with pytest.raises(IntegrityError, match="the record is final"), transaction.atomic():
            harm()


def test_who_may_not_and_what_is_too_much_is_refused(changed_cast: Cast) -> None:
    cast = changed_cast
    with pytest.raises(Refusal, match="Only the chief instructor"):
        decide(cast, 1, by=cast.bert)
    with pytest.raises(Refusal, match="10 earlier lessons of Dora Example can count as evidence"):
        decide(cast, 11)
    with pytest.raises(Refusal, match="Write why"):
        decide_earlier_evidence(enrolment=cast.enrolment, count=1, reason=" ", by=cast.amelia, at=cast.at())
    assert not EarlierEvidence.objects.exists()


def test_pages_and_paper_say_brought_forward_and_by_whom(changed_cast: Cast, client: Client) -> None:
    cast = changed_cast
    client.force_login(cast.amelia)
    page = f"/students/{cast.enrolment.uid}/earlier-evidence/"
    assert "No earlier lesson of Dora Example counts as evidence" in client.get(page).text
    reply = client.post(page, {"count": "11", "reason": "Kept while it is corrected"})
    assert reply.status_code == 422
    assert "Kept while it is corrected" in reply.text
    assert client.post(page, {"count": "10", "reason": "Read in the old book"}).status_code == 302
    words = " ".join(client.get(f"/people/{cast.dora.pk}/earlier-training/").text.split())
    assert "10 earlier lessons with grades count as evidence, by decision of Amelia Example" in words
    assert "Grades brought forward: takeoff Perform, landing Perform" in words
    assert "Grades brought forward: slip Explain, stalls Practice" in words
    words = " ".join(client.get(f"/students/{cast.enrolment.uid}/").text.split())
    assert "10 brought forward" in words
    assert "by decision of Amelia Example" in words
    content = build_complete_content(cast.enrolment, cast.today)
    assert [len(row["lessons"]) for row in content["earlier_evidence"]] == [10]
    assert content["earlier_evidence"][0]["by"]["name"] == "Amelia Example"
    assert content["earlier"][0]["grades"] == {"takeoff": "perform", "landing": "perform"}


def test_the_grades_are_in_the_sealed_text_of_the_lesson(changed_cast: Cast) -> None:
    texts = [json.loads(row.canonical) for row in ReceivedRecord.objects.order_by("place")]
    assert texts[0]["grades"] == {"landing": "perform", "takeoff": "perform"}
    assert texts[-1]["grades"] == {"slip": "explain", "stalls": "practice"}
    assert [text["unit"] for text in texts if "grades" not in text] == ["Rules"]


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (",Great,", "Write one of Describe, Explain, Practice, Perform, or nothing."),
        (",,stalls Practice", "Write the code of a manoeuvre, a colon and a level"),
        (",,stalls: Practice; stalls: Perform", "“stalls” is graded twice"),
        (",,landing: Practice", "“landing” has a column of its own"),
        (",,juggling: Practice", "No manoeuvre of this school has the code “juggling”"),
    ],
)
def test_a_grade_that_cannot_be_read_is_refused(cast: Cast, cells: str, said: str) -> None:
    row = f"T-4,2020-03-01,Circuits,1:00,,1,QQ-XXA,Old Hand,Box 3,{cells}\n"
    plan = import_table.plan_import("past_lessons", (HEAD + row).encode(), cast.today)
    assert [said in problem.sentence for problem in plan.problems] == [True]
