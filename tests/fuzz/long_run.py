"""The long run, started by `python -m tests.fuzz`; pytest only lends its database and fixtures."""

import logging
import os
import sys

import pytest
from django.conf import settings
from django.utils import timezone

from tests.cast import Cast
from tests.factories import opening_form
from tests.fuzz.run import attack_everything, attack_the_opening
from tests.fuzz.school import PEOPLE


@pytest.fixture(scope="session")
def django_db_modify_db_settings() -> None:
    """A database of its own beside that of the suite."""
    settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = "test_fuzz"


def test_opening(db: None, capsys: pytest.CaptureFixture[str]) -> None:
    logging.disable(logging.CRITICAL)
    with capsys.disabled():
        inputs = 20 * int(os.environ["FUZZ_EXAMPLES"])
        account = attack_the_opening(opening_form(), timezone.localdate(), inputs=inputs, quick=False)
        sys.stdout.write(f"\n{account.report()}\n")
    assert not account.broken


@pytest.mark.parametrize("who", PEOPLE)
def test_long(cast: Cast, who: str | None, capsys: pytest.CaptureFixture[str]) -> None:
    logging.disable(logging.CRITICAL)
    with capsys.disabled():
        account = attack_everything(cast, who=who, examples=int(os.environ["FUZZ_EXAMPLES"]))
        sys.stdout.write(f"\n{account.report()}\n")
    assert not account.broken
