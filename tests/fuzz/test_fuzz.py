"""A sample of what `python -m tests.fuzz` tries: forms and endpoints with what nobody should send, always the same."""

from django.utils import timezone

from tests.cast import Cast
from tests.factories import opening_form
from tests.fuzz.run import attack_a_few, attack_the_opening


def test_no_input_fails_or_is_written_by_half(cast: Cast) -> None:
    account = attack_a_few(cast, inputs=4)
    assert not account.broken, account.report()
    assert sum(account.tried.values()) >= 30


def test_no_input_opens_a_school_by_half(db: None) -> None:
    account = attack_the_opening(opening_form(), timezone.localdate(), inputs=12, quick=True)
    assert not account.broken, account.report()
    assert account.answers["302"], "some of them are right and open it"
    assert account.answers["422"]
