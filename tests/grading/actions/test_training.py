"""The end of training and its certification, endorsements withdrawn, signatures drawn, the page of the check."""

from contextlib import nullcontext
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from django.test import Client

from grading.actions import endorsements, handwriting, signing, training, withdrawals
from grading.evidence.audit.check import audit_records, run_audit
from grading.models import RecordCheck, Release, Seal, Signature
from lessons.models import Endorsement, Enrolment
from school.errors import Refusal
from school.marks import handwriting as drawn_signature
from school.models import JournalEntry
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson, record_circuit, record_entries, sign_lesson
from tests.ready_student import make_ready, sign_release


def test_the_admin_records_the_end_and_the_chief_certifies_it(cast: Cast, client: Client) -> None:
    """14 CFR 141.101(a)(3): the date completed, terminated or transferred; (c): the chief instructor certifies."""
    fly_lesson(cast, days_ago=3)
    page = f"/students/{cast.enrolment.uid}/end/"
    client.force_login(cast.frida)
    assert "Record the end" in client.get(page).text
    early = client.post(page + "record/", {"on": cast.today - timedelta(days=4), "end": "completed"})
    assert early.status_code == 422
    assert "the training did not end before it" in early.text
    assert client.post(page + "record/", {"on": cast.today, "end": "graduated"}).status_code == 422
    assert client.post(page + "record/", {"on": cast.today, "end": "completed"}).status_code == 302
    assert "Certify the record" not in client.get(page).text
    assert client.post(page + "certify/", {"secret": SECRET}).status_code == 403
    client.force_login(cast.amelia)
    assert "Dora Example</a>: training completed" in client.get("/students/").text
    assert "Nothing was signed" in client.post(page + "certify/", {"secret": "guess"}).text
    assert client.post(page + "certify/", {"secret": SECRET}).status_code == 302
    signature = Signature.objects.get(enrolment=cast.enrolment)
    assert (signature.name, signature.capacity, signature.certificate_number) == ("Amelia Example", "chief", "C-1")
    text = " ".join(BeautifulSoup(client.get(page).text, "html.parser").get_text(" ").split())
    assert "Chief instructor: signed Amelia Example, T-1 Certificate C-1" in text
    assert signature.meaning in text
    assert "to be certified" not in client.get("/students/").text
    assert '"end":"completed"' in Seal.objects.get(kind="end").canonical
    with pytest.raises(Refusal, match="already been certified"):
        training.certify_end(enrolment=cast.enrolment, secret=SECRET, by=cast.amelia, at=cast.at(20))


def test_a_training_does_not_end_over_a_lesson_that_is_being_written(cast: Cast) -> None:
    begin_lesson(cast)
    with pytest.raises(Refusal, match="signs or discards it first"):
        training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at())
    with pytest.raises(Refusal, match="has not ended"):
        training.certify_end(enrolment=cast.enrolment, secret=SECRET, by=cast.amelia, at=cast.at())
    with pytest.raises(Refusal, match="administrator or the chief"):
        training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.bert, at=cast.at())


def test_an_endorsement_is_signed_and_withdrawn_by_its_giver_or_the_chief(cast: Cast, client: Client) -> None:
    fly_lesson(cast, days_ago=1)
    given = endorsements.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Proficient.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at(9)
    )
    signature = Signature.objects.get(endorsement=given)
    assert (signature.name, signature.certificate_number, signature.meaning) == (
        "Bert Example", "C-2", endorsements.MEANING,
    )  # fmt: skip
    page = f"/students/{cast.enrolment.uid}/"
    client.force_login(cast.cleo)
    assert "Withdraw this endorsement" not in client.get(page).text
    refused = client.post(f"/endorsements/{given.uid}/withdraw/", {"reason": "x"})
    assert "Only Bert Example, who gave it" in refused.text
    client.force_login(cast.bert)
    assert "Withdraw this endorsement" in client.get(page).text
    assert "Write why" in client.post(f"/endorsements/{given.uid}/withdraw/", {"reason": " "}).text
    client.post(f"/endorsements/{given.uid}/withdraw/", {"reason": "Wrong type"})
    given = Endorsement.objects.get()
    assert (given.withdrawn_by, given.withdrawal_reason) == (cast.bert, "Wrong type")
    text = client.get(page).text
    assert "Withdraw this endorsement" not in text
    assert "Wrong type" in text
    assert [seal.kind for seal in Seal.objects.order_by("-number")[:2]] == ["unendorsed", "endorsement"]
    assert JournalEntry.objects.filter(what="endorsement withdrawn").count() == 1
    with pytest.raises(Refusal, match="already withdrawn"):
        withdrawals.withdraw_endorsement(endorsement=given, reason="again", by=cast.amelia, at=cast.at(11))


def test_a_release_ends_with_the_endorsement_it_rests_on(cast: Cast) -> None:
    make_ready(cast)
    sign_release(cast)
    solo, tailwheel = (Endorsement.objects.get(kind=kind) for kind in ("pre_solo_training", "tailwheel"))
    withdrawals.withdraw_endorsement(endorsement=tailwheel, reason="Mistake", by=cast.bert, at=cast.at(16))
    assert Release.objects.in_force(cast.today).count() == 1
    withdrawals.withdraw_endorsement(endorsement=solo, reason="Slipped back", by=cast.amelia, at=cast.at(17))
    assert Release.objects.get().withdrawal_reason == "The endorsement was withdrawn: Slipped back"
    assert [seal.kind for seal in Seal.objects.order_by("-number")[:2]] == ["withdrawal", "unendorsed"]
    assert audit_records().findings == []


@pytest.mark.parametrize(
    ("days", "sentence"),
    [(1, "cannot be dated in the future"), (-300, "after that day"), (-2, "the training comes first"), (-1, None)],
)
def test_the_day_of_an_endorsement(cast: Cast, days: int, sentence: str | None) -> None:
    """The first training in the type was a day ago: 14 CFR 61.31(i)(1)."""
    fly_lesson(cast, days_ago=1)
    with pytest.raises(Refusal, match=sentence) if sentence else nullcontext():
        endorsements.endorse_for_tailwheel(
            enrolment=cast.enrolment, text="x", on=cast.today + timedelta(days=days), secret=SECRET, by=cast.bert,
            at=cast.at(),
        )  # fmt: skip


GOOD = "[[[0,0],[600,200],[10,20]],[[5,5]]]"


def test_a_signature_drawn_is_kept_sealed_and_shown(cast: Cast, client: Client) -> None:
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    client.force_login(cast.bert)
    kept = client.post(f"/lessons/{lesson.uid}/sign/", {"secret": "guess", "drawn": GOOD})
    assert BeautifulSoup(kept.text, "html.parser").find("input", {"name": "drawn"})["value"] == GOOD  # type: ignore[index]
    assert client.post(f"/lessons/{lesson.uid}/sign/", {"secret": SECRET, "drawn": GOOD}).status_code == 302
    client.force_login(cast.dora)
    client.post(f"/lessons/{lesson.uid}/acknowledge/", {"secret": SECRET, "act": "signed", "drawn": "[]"})
    assert [row.drawn for row in Signature.objects.order_by("pk")] == [GOOD, ""]
    sealed = [seal.canonical for seal in Seal.objects.order_by("number")]
    assert ['"drawn":' in text for text in sealed] == [True, False]
    page = BeautifulSoup(client.get(f"/lessons/{lesson.uid}/").text, "html.parser")
    drawing = page.find("svg", {"aria-label": "Signature drawn by the instructor"})
    assert drawing.path["d"] == "M0 0L600 200L10 20M5 5h0.1"  # type: ignore[index,union-attr]
    assert page.find("svg", {"aria-label": "Signature drawn by the student"}) is None


@pytest.mark.parametrize(
    "text",
    [
        "nonsense", "{}", "[1]", "[[]]", "[[[1]]]", "[[[1,2,3]]]", '[[["1",2]]]', "[[[1.5,2]]]", "[[[true,2]]]",
        "[[[-1,2]]]", "[[[601,2]]]", "[[[1,201]]]", "[[[1,2]]," * 61, "[" * 5000,
        "[" + ",".join(["[[1,1]]"] * (handwriting.MAX_LINES + 1)) + "]",
        "[[" + ",".join(["[1,1]"] * (handwriting.MAX_POINTS + 1)) + "]]",
        "[[" + ",".join(["[100,100]"] * 5000) + "]]",
    ],
)  # fmt: skip
def test_invalid_strokes_are_refused(text: str) -> None:
    with pytest.raises(Refusal, match="Nothing was signed"):
        handwriting.validate_strokes(text)


def test_a_drawing_is_kept_in_its_shortest_form() -> None:
    assert handwriting.validate_strokes(" [ [ [1, 2], [3,4] ] ] ") == "[[[1,2],[3,4]]]"
    assert (
        handwriting.validate_strokes("")
        == handwriting.validate_strokes("[]")
        == handwriting.validate_strokes("  ")
        == ""
    )
    assert 'viewBox="0 0 600 200"' in drawn_signature("[[[1,2],[3,4]]]")
    longest = "[[" + ",".join(["[600,200]"] * handwriting.MAX_POINTS) + "]]"
    assert len(longest) <= handwriting.MAX_CHARACTERS
    assert handwriting.validate_strokes(longest) == longest


def test_a_refusal_to_sign_keeps_no_drawing(cast: Cast) -> None:
    lesson = fly_lesson(cast)
    made = signing.acknowledge_lesson(
        lesson=lesson, secret=SECRET, by=cast.dora, at=cast.at(), refuse=True, remark="No", drawn=GOOD
    )
    assert made.drawn == ""


def test_the_records_page_shows_the_last_check_and_runs_one(cast: Cast, client: Client) -> None:
    fly_lesson(cast)
    client.force_login(cast.frida)
    assert "have not been checked yet" in client.get("/records/").text
    assert client.post("/records/check/").status_code == 302
    kept = RecordCheck.objects.get()
    assert (kept.by, kept.seals) == (cast.frida, 1)
    # The suite works as the owner of the tables, which is what the check must find.
    assert kept.findings == [kept.findings[0]]
    assert "runs as the owner" in kept.findings[0]
    text = client.get("/records/").text
    assert "The last check found 1 thing wrong." in text
    assert "Change nothing, print nothing" in text
    assert "by Frida Example: 1 seal" in text
    RecordCheck.objects.create(at=cast.at(23), seals=1, found=0)
    text = client.get("/records/").text
    assert "Every sealed record was unaltered at the last check." in text
    assert "by the daily check" in text


def test_a_later_version_is_certified_with_the_earlier_one(cast: Cast) -> None:
    sign_lesson(cast, begin_with_hours(cast))
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="transferred", by=cast.amelia, at=cast.at(18))
    training.certify_end(enrolment=cast.enrolment, secret=SECRET, by=cast.amelia, at=cast.at(19))
    assert Enrolment.objects.get(pk=cast.enrolment.pk).end == "transferred"
    run = run_audit(by=None, at=cast.at(20))
    assert [line for line in run.findings if line.startswith("seal")] == []
    with pytest.raises(Refusal, match="already ended"):
        training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at(21))


def begin_with_hours(cast: Cast):  # type: ignore[no-untyped-def] # a lesson ready to be signed
    lesson = begin_lesson(cast)
    record_entries(cast, lesson, **{"lesson.dual_minutes": "1.0"})
    record_circuit(cast, lesson, 1)
    return lesson
