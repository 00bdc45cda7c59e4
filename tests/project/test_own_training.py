"""Who teaches or decides may be a student too, and then somebody else teaches and decides. And what ended is not
decided about any more."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from grading.actions import credit, decisions, endorsements, sheets, training
from grading.models import Release, SetAside, Signature
from lessons import actions as lesson_actions
from lessons.models import Endorsement, Enrolment, KnowledgeTest, Lesson
from school.accounts import actions
from school.errors import Refusal
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson, fly_lesson
from tests.ready_student import make_limits, make_ready
from tests.shared_state import shared_state

Act = Callable[[Cast, Enrolment, Person], Any]


@shared_state
def own_enrolment(cast: Cast) -> Enrolment:
    """Amelia, chief and instructor, learns herself."""
    actions.change_roles(
        person=cast.amelia, roles=["student", "instructor", "chief"], by=cast.frida, at=cast.at(8, 100)
    )
    cast.amelia.refresh_from_db()
    return lesson_actions.enrol(
        student=cast.amelia, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.bert,
        on=cast.at(8, 100).date(), by=cast.frida, at=cast.at(8, 100),
    )  # fmt: skip


def lesson(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return begin_lesson(cast, instructor=by, enrolment=enrolment)


def endorse_tailwheel(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return endorsements.endorse_for_tailwheel(
        enrolment=enrolment, text="Safe.", on=cast.today, secret=SECRET, by=by, at=cast.at()
    )


def record_test(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return training.record_written_test(
        enrolment=enrolment, aircraft_type=cast.type, taken_on=cast.today, topics=[], questions=20, wrong=1,
        reviewed_on=None, given_by=by, by=by, at=cast.at(),
    )  # fmt: skip


def set_aside(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return decisions.set_aside_requirement(
        enrolment=enrolment, requirement="second_instructor", reason="Seen", by=by, at=cast.at()
    )


def release(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return decisions.sign_release(
        enrolment=enrolment, limits=make_limits(cast), valid_from=cast.today, valid_until=cast.today, secret=SECRET,
        endorsed_by=cast.bert, reason="Seen", by=by, at=cast.at(16),
    )  # fmt: skip


def credit_unit(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return credit.decide_credit(enrolment=enrolment, units={}, counted={}, reason="Read.", by=by, at=cast.at())


def end_training(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return training.end_training(enrolment=enrolment, on=cast.today, end="completed", by=by, at=cast.at())


def certify_end(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return training.certify_end(enrolment=enrolment, secret=SECRET, by=by, at=cast.at())


def assign_self(cast: Cast, enrolment: Enrolment, by: Person) -> Any:
    return lesson_actions.change_instructor(enrolment=enrolment, instructor=by, by=cast.frida, at=cast.at())


ACTS: list[Act] = [
    lesson, endorse_tailwheel, record_test, set_aside, release, credit_unit, end_training, certify_end, assign_self,
]  # fmt: skip


@pytest.mark.parametrize("act", ACTS)
def test_nobody_teaches_or_decides_about_themselves(cast: Cast, own_enrolment: Enrolment, act: Act) -> None:
    with pytest.raises(Refusal, match="own training"):
        act(cast, own_enrolment, Person.objects.get(pk=cast.amelia.pk))
    written = (Lesson, Endorsement, KnowledgeTest, SetAside, Release, Signature)
    assert not any(kind.objects.filter(enrolment=own_enrolment).exists() for kind in written)


def test_nobody_is_enrolled_with_themselves(cast: Cast, own_enrolment: Enrolment) -> None:
    with pytest.raises(Refusal, match="own training"):
        lesson_actions.enrol(
            student=cast.amelia, syllabus=cast.enrolment.syllabus, aircraft_type=cast.type, instructor=cast.amelia,
            on=cast.today, by=cast.frida, at=cast.at(),
        )  # fmt: skip


def test_somebody_else_does_all_that_for_them(cast: Cast, own_enrolment: Enrolment) -> None:
    fly_lesson(cast, enrolment=own_enrolment)
    for act in (lesson, endorse_tailwheel, record_test):
        act(cast, own_enrolment, cast.bert)
    assign_self(cast, own_enrolment, cast.cleo)


def test_the_tablet_of_a_student_who_teaches_makes_no_page_of_their_own_lesson(
    cast: Cast, own_enrolment: Enrolment
) -> None:
    client = Client()
    client.force_login(cast.amelia)
    assert client.get(f"/tablet/blank/{own_enrolment.uid}/{cast.units[8].pk}/").status_code == 404


@pytest.mark.parametrize(("act", "who"), [(set_aside, "amelia"), (release, "amelia"), (credit_unit, "amelia")])
def test_about_a_training_that_has_ended_nothing_is_decided(cast: Cast, act: Act, who: str) -> None:
    stale = Enrolment.objects.select_related("student", "aircraft_type").get(pk=cast.enrolment.pk)
    make_ready(cast, but="second_instructor")
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at(13))
    with pytest.raises(Refusal, match="ended"):
        act(cast, stale, getattr(cast, who))


def test_an_endorsement_is_not_dated_after_the_end(cast: Cast) -> None:
    yesterday = cast.at(8, 1).date()
    fly_lesson(cast, days_ago=1)
    training.end_training(enrolment=cast.enrolment, on=yesterday, end="completed", by=cast.frida, at=cast.at(13))
    with pytest.raises(Refusal, match="ended"):
        endorse_tailwheel(cast, cast.enrolment, cast.bert)
    assert endorsements.endorse_for_tailwheel(
        enrolment=cast.enrolment, text="Safe.", on=yesterday, secret=SECRET, by=cast.bert, at=cast.at()
    )


def test_a_student_prints_so_many_copies_a_day_and_the_administrator_goes_on(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets, "MAX_OWN_COPIES_PER_DAY", 1)
    client = Client()
    client.force_login(cast.dora)
    page = f"/records/{cast.enrolment.uid}/sheets/"
    answers = [client.post(page, {"kind": "complete", "paper": "A4"}) for _ in range(2)]
    assert [reply.status_code for reply in answers] == [302, 422]
    assert "You printed 1 copies" in answers[1].text
    client.force_login(cast.frida)
    assert client.post(page, {"kind": "complete", "paper": "A4"}).status_code == 302
    again = sheets.print_progress_sheet(
        enrolment=cast.enrolment, on=cast.today, paper="A4", by=cast.dora, at=cast.at() + timedelta(days=1)
    )
    assert again.printed_by == cast.dora
