"""A sample of what `python -m tests.fuzz` tries: forms and endpoints with what nobody should send, always the same."""

from tests.cast import Cast
from tests.fuzz.run import attack_a_few


def test_no_input_fails_or_is_written_by_half(cast: Cast) -> None:
    account = attack_a_few(cast, inputs=8)
    assert not account.broken, account.report()
    assert sum(account.tried.values()) >= 60
