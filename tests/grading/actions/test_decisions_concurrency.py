"""The same decision taken twice at one moment, by two people or in two windows: one stands, the other is told why."""

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from django.test import Client

from grading.actions import decisions, endorsements, signing, training, withdrawals
from grading.models import Release, Seal, SetAside, Signature
from lessons.models import Endorsement, Enrolment
from school.errors import Refusal
from school.models import JournalEntry, Role
from tests.cast import SECRET, Cast
from tests.concurrency import REPEATS, records_are_sound, refusals, run_together
from tests.factories import add_person, begin_lesson, fly_lesson, record_circuit, record_entries
from tests.ready_student import make_limits, make_ready
from tests.ready_student import sign_release as decide
from tests.shared_state import shared_state


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    return cast


def add_second_chief(cast: Cast) -> Any:
    """A second chief instructor."""
    return add_person("Gil", "T-7", Role.CHIEF, Role.INSTRUCTOR, at=cast.at(8, 100), certificate="C-7")


def test_a_second_release_is_refused_until_the_first_is_withdrawn_or_has_ended(ready: Cast) -> None:
    first = decide(ready, valid_until=ready.today + timedelta(days=9))
    with pytest.raises(Refusal, match=r"Amelia Example has released Dora Example for solo by day, at home from"):
        decide(ready, by=add_second_chief(ready), limits=make_limits(ready, 3))
    with pytest.raises(Refusal, match="already"):
        decide(ready, valid_from=ready.today + timedelta(days=9), valid_until=ready.today + timedelta(days=10))
    decide(ready, valid_from=ready.today + timedelta(days=10), valid_until=ready.today + timedelta(days=20))
    decisions.withdraw_release(release=first, reason="Less crosswind", by=ready.amelia, at=ready.at(16))
    again = decide(ready, limits=make_limits(ready, 3), valid_until=ready.today + timedelta(days=9), at=ready.at(17))
    assert list(Release.objects.in_force(ready.today)) == [again]


def test_the_form_of_a_renewal_begins_after_the_release_in_force(ready: Cast, client: Client) -> None:
    client.force_login(ready.amelia)
    page = f"/students/{ready.enrolment.uid}/"
    first = decide(ready, valid_until=ready.today + timedelta(days=9))
    shown = client.get(page)
    assert shown.context["form"]["valid_from"].value() == first.valid_until + timedelta(days=1)
    assert "if limits are to change, withdraw it first" in shown.text
    decisions.withdraw_release(release=first, reason="Wind", by=ready.amelia, at=ready.at(16))
    assert client.get(page).context["form"]["valid_from"].value() == ready.today


def test_the_same_endorsement_is_not_given_twice_on_one_day(ready: Cast) -> None:
    asked = {"enrolment": ready.enrolment, "text": "Safe.", "on": ready.today, "secret": SECRET}
    given = endorsements.endorse_for_solo(**asked, by=ready.bert, at=ready.at(13))
    with pytest.raises(Refusal, match="You have endorsed Dora Example for this on"):
        endorsements.endorse_for_solo(**asked, by=ready.bert, at=ready.at(14))
    endorsements.endorse_for_solo(**asked, by=ready.cleo, at=ready.at(14))
    endorsements.endorse_for_tailwheel(**asked, by=ready.bert, at=ready.at(14))
    withdrawals.withdraw_endorsement(endorsement=given, reason="Wrong words", by=ready.bert, at=ready.at(15))
    assert endorsements.endorse_for_solo(**asked | {"text": "Right."}, by=ready.bert, at=ready.at(16)).text == "Right."


def test_two_chiefs_release_at_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    make_ready(cast)
    chiefs = (cast.amelia, add_second_chief(cast))
    for _ in range(REPEATS):
        done = run_together(*(lambda chief=chief: decide(cast, by=chief, at=cast.at(16)) for chief in chiefs))
        [stands] = Release.objects.in_force(cast.today)
        [sentence] = refusals(done)
        assert f"{stands.decided_by} has released Dora Example" in sentence
        decisions.withdraw_release(release=stands, reason="Once more", by=cast.bert, at=cast.at(16))
    assert Release.objects.count() == Seal.objects.filter(kind=Seal.Kind.RELEASE).count() == REPEATS
    assert records_are_sound()


def test_one_instructor_endorses_in_two_windows_at_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    acts: tuple[Callable[..., Endorsement], ...] = (endorsements.endorse_for_solo, endorsements.endorse_for_tailwheel)
    for act in acts:
        again = lambda act=act: act(  # noqa: E731 - twice the same act
            enrolment=cast.enrolment, text="Safe.", on=cast.today, secret=SECRET, by=cast.bert, at=cast.at(13)
        )
        assert ["already" in one for one in refusals(run_together(again, again))] == [True]
    assert Endorsement.objects.count() == Signature.objects.filter(endorsement__isnull=False).count() == 2
    assert records_are_sound()


def test_two_chiefs_set_aside_and_ask_again_at_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    make_ready(cast, but="second_instructor")
    chiefs = (cast.amelia, add_second_chief(cast))
    asked = {"enrolment": cast.enrolment, "requirement": "second_instructor", "reason": "Seen"}
    for _ in range(REPEATS):
        done = run_together(
            *(
                lambda chief=chief: decisions.set_aside_requirement(**asked, by=chief, at=cast.at(13))
                for chief in chiefs
            )
        )
        assert ["is not open" in one for one in refusals(done)] == [True]
        decided = SetAside.objects.get(withdrawn_at=None)
        done = run_together(
            *(
                partial(decisions.reinstate_requirement, requirement_set_aside=decided, by=by, at=cast.at(14))
                for by in chiefs
            )
        )
        assert refusals(done) == ["This has already been withdrawn."]
    assert records_are_sound()


def test_training_ends_and_is_certified_once(transactional_cast: Cast) -> None:
    cast = transactional_cast
    fly_lesson(cast)
    ends = [("completed", cast.frida), ("terminated", cast.amelia)]
    asked = [(Enrolment.objects.get(pk=cast.enrolment.pk), *row) for row in ends]  # as each window read it
    done = run_together(
        *(
            partial(training.end_training, enrolment=read, on=cast.today, end=end, by=by, at=cast.at(13))
            for read, end, by in asked
        )
    )
    assert ["already ended" in one for one in refusals(done)] == [True]
    cast.enrolment.refresh_from_db()
    assert JournalEntry.objects.get(what="enrolment ended").after["end"] == cast.enrolment.end
    certify = [
        lambda by=by: training.certify_end(enrolment=cast.enrolment, secret=SECRET, by=by, at=cast.at(14))
        for by in (cast.amelia, add_second_chief(cast))
    ]
    assert refusals(run_together(*certify)) == ["The end of this training has already been certified."]
    assert Signature.objects.filter(enrolment=cast.enrolment).count() == 1
    assert records_are_sound()


def test_a_training_is_not_certified_over_a_lesson_that_is_being_written(transactional_cast: Cast) -> None:
    """Its signature may wait for the certification and is dated before it: it would be missing from what is sealed."""
    cast = transactional_cast
    training.end_training(enrolment=cast.enrolment, on=cast.today, end="completed", by=cast.frida, at=cast.at(9))
    late = begin_lesson(cast)
    record_entries(cast, late, **{"lesson.dual_minutes": "0.5"})
    record_circuit(cast, late, 1)
    done = run_together(
        partial(signing.sign_lesson, lesson=late, secret=SECRET, by=cast.bert, at=cast.at(14)),
        partial(training.certify_end, enrolment=cast.enrolment, secret=SECRET, by=cast.amelia, at=cast.at(15)),
    )
    assert all("is being written" in one for one in refusals(done))
    assert records_are_sound()
