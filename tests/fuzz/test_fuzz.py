"""A sample of what `python -m tests.fuzz` tries: forms and endpoints with what nobody should send, always the same."""

from tests.cast import Cast
from tests.fuzz.run import attack_a_few
from tests.fuzz.school import Address
from tests.grading.test_access import address  # noqa: F401 - the fixture of the access ladder


def test_no_input_fails_or_is_written_by_half(cast: Cast, address: Address) -> None:  # noqa: F811
    account = attack_a_few(cast, address, inputs=8)
    assert not account.broken, account.report()
    assert sum(account.tried.values()) >= 60
