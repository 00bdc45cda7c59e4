"""Every form and endpoint, tried by each of the cast with what nobody should send. The long run: python -m tests.fuzz."""

from tests.cast import Cast
from tests.fuzz.run import attack_everything
from tests.fuzz.school import Address
from tests.grading.test_access import address  # noqa: F401 - the fixture of the access ladder


def test_no_input_fails_or_is_written_by_half(cast: Cast, address: Address) -> None:  # noqa: F811
    account = attack_everything(cast, address, examples=2, by_rule=True, thorough=False)
    assert not account.broken, account.report()
