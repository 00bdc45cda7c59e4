"""Who is told of a release: at each change, before it expires and after; a failing mail server undoes nothing."""

from collections.abc import Callable
from datetime import timedelta
from smtplib import SMTPException

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.test import Client

from grading.actions import decisions
from grading.models import Release
from grading.operations.daily import remind_of_expiries
from grading.operations.release_mail import ReleaseMailNotSent, remind_of_releases
from school.models import Person
from tests.cast import SECRET, Cast
from tests.factories import begin_lesson
from tests.ready_student import make_ready, sign_release
from tests.shared_state import shared_state


@shared_state
def ready(cast: Cast) -> Cast:
    make_ready(cast)
    for person in (cast.amelia, cast.bert, cast.dora):
        Person.objects.filter(pk=person.pk).update(email=f"{person.username}@example.invalid")
        person.refresh_from_db()
    return cast


@pytest.fixture
def without_server(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    def fail(*_: object) -> int:
        raise SMTPException("away")

    return lambda: monkeypatch.setattr(EmailBackend, "send_messages", fail)


def told() -> dict[str, str]:
    return {message.to[0].partition("@")[0]: message.body for message in mail.outbox}


def post_withdrawal(cast: Cast, client: Client, release: Release) -> str:
    client.force_login(cast.amelia)
    page = client.post(f"/releases/{release.uid}/withdraw/", {"reason": "Bounced twice"}, follow=True)
    return page.text


def test_a_withdrawal_is_told_to_student_and_instructor(ready: Cast, client: Client) -> None:
    page = post_withdrawal(ready, client, sign_release(ready))
    assert "is withdrawn: no solo until a new one." in page
    assert set(told()) == {"bert", "dora"}
    assert "Your release was withdrawn" in told()["dora"]
    assert "Reason: Bounced twice" in told()["dora"]
    assert "/me/" in told()["dora"]
    assert "Dora Example" in told()["bert"]
    assert "No solo until a new release." in told()["bert"]


def test_a_release_is_told(ready: Cast, client: Client) -> None:
    client.force_login(ready.amelia)
    form = {
        "kind": "day", "endorsement": "", "aerodrome": ready.runway.aerodrome_id, "runways": "18",
        "max_wind_kt": "12", "max_crosswind_kt": "5", "min_visibility_sm": "5", "min_ceiling_ft": "2000",
        "valid_from": str(ready.today), "valid_until": str(ready.today + timedelta(days=30)),
        "endorsed_by": ready.bert.pk, "reason": "", "secret": SECRET,
    }  # fmt: skip
    client.post(f"/students/{ready.enrolment.uid}/release/", form)
    assert Release.objects.filter(enrolment=ready.enrolment).exists()
    assert set(told()) == {"bert", "dora"}
    assert "You are released for solo until" in told()["dora"]
    assert "your instructor says on the day" in told()["dora"]


def test_a_withdrawal_holds_without_a_mail_server(
    ready: Cast, client: Client, without_server: Callable[[], None]
) -> None:
    release = sign_release(ready)
    without_server()
    page = post_withdrawal(ready, client, release)
    assert "No e-mail reached Dora Example and Bert Example: tell them yourself." in page
    release.refresh_from_db()
    assert release.withdrawn_at is not None


def test_an_endorsement_that_is_withdrawn_tells_of_the_release(ready: Cast, client: Client) -> None:
    sign_release(ready)
    given = ready.enrolment.endorsements.get(kind="pre_solo_training")
    client.force_login(ready.amelia)
    client.post(f"/endorsements/{given.uid}/withdraw/", {"reason": "Wrong type"})
    assert "The endorsement was withdrawn: Wrong type" in told()["dora"]


def test_days_on_which_an_expiry_is_told(ready: Cast) -> None:
    release = sign_release(ready)
    days = {}
    for left in range(16, -3, -1):
        mail.outbox.clear()
        remind_of_releases(release.valid_until - timedelta(days=left))
        days[left] = sorted(told())
    everybody = ["amelia", "bert", "dora"]
    assert {left: who for left, who in days.items() if who} == dict.fromkeys((14, 7, 1, -1), everybody)


def test_words_of_an_expiry(ready: Cast) -> None:
    release = sign_release(ready)
    remind_of_releases(release.valid_until + timedelta(days=1))
    assert "Your release expired on" in told()["dora"]
    assert "No solo until a new release." in told()["amelia"]


def test_a_renewed_or_withdrawn_release_is_not_told_again(ready: Cast) -> None:
    release = sign_release(ready)
    after = release.valid_until + timedelta(days=1)
    sign_release(ready, valid_from=after, valid_until=after + timedelta(days=6), at=ready.at(16))
    assert remind_of_releases(after).startswith(f"Releases due on {after}: 0,")
    for row in Release.objects.filter(enrolment=ready.enrolment):
        decisions.withdraw_release(release=row, reason="Unwell", by=ready.bert, at=ready.at(17))
    assert remind_of_releases(after + timedelta(days=5)).endswith(": 0, 0 e-mails sent.")


def test_the_daily_work_fails_aloud_and_tells_the_others(ready: Cast, without_server: Callable[[], None]) -> None:
    release = sign_release(ready)
    without_server()
    with pytest.raises(ReleaseMailNotSent, match="Not sent to Dora Example, Bert Example"):
        remind_of_releases(release.valid_until - timedelta(days=7))


def test_the_daily_work_names_who_has_no_address(ready: Cast) -> None:
    Person.objects.filter(pk=ready.dora.pk).update(email="")
    release = sign_release(ready)
    begin_lesson(ready)
    said = remind_of_expiries(release.valid_until - timedelta(days=7))
    assert ": 1, 2 e-mails sent." in said
    assert "Without an e-mail address: Dora Example." in said
