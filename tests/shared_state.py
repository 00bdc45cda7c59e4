"""What many tests begin from is built once and stands in a transaction below theirs, until other ground is wanted.

Each test runs in savepoints on top of it, as pytest-django leaves open; so nothing that a test did is left for the
next, and the building is paid for once a file instead of once a test. Tests on bare ground and tests that commit do
not meet it: it is taken down before them. The day is part of what was built, so midnight builds anew.
"""

import copy
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import connection, transaction
from django.utils import timezone

from tests.cast import Cast
from tests.cast_rows import insert_cast

Builder = Callable[[Cast], Any]
BUILDERS: dict[object, Builder] = {}


@dataclass
class Layer:
    """A transaction that stays open, and what was built in it. The lowest holds the cast and has no builder."""

    builder: Builder | None
    value: Any
    transaction: Any


@dataclass
class SharedTransactions:
    layers: list[Layer] = field(default_factory=list)
    unblocked: Callable[[], AbstractContextManager[None]] = nullcontext

    def state_for(self, builder: Builder | None) -> Any:
        """Copies of the cast and of what was built with it: what a test does to them is its own."""
        today = timezone.localdate()
        with self.unblocked():
            if not self.layers or self.layers[0].value[0].today != today:
                self._roll_back_to(0)
                self._open_layer(None, lambda: (insert_cast(today), None))
            if self.layers[-1].builder is not builder:
                self._roll_back_to(1)
                if builder:
                    cast, _ = copy.deepcopy(self.layers[0].value)
                    self._open_layer(builder, lambda: (cast, builder(cast)))
        return copy.deepcopy(self.layers[-1].value)

    def _open_layer(self, builder: Builder | None, build: Callable[[], Any]) -> None:
        assert len(connection.atomic_blocks) == len(self.layers), "the transaction of a test has begun already"
        opened = transaction.atomic()
        opened._from_testcase = True  # what asks to be the outermost transaction may be within it
        opened.__enter__()
        layer = Layer(builder, None, opened)
        self.layers.append(layer)
        layer.value = build()
        connection.check_constraints()  # what is put off to the commit is settled here, and not in each test

    def clear(self) -> None:
        with self.unblocked():
            self._roll_back_to(0)

    def _roll_back_to(self, to: int) -> None:
        while len(self.layers) > to:
            transaction.set_rollback(True)
            self.layers.pop().transaction.__exit__(None, None, None)


SHARED_TRANSACTIONS = SharedTransactions()


def shared_state(builder: Builder) -> Any:
    """A fixture of the builder's name: what it makes of the cast, built once for as long as tests ask for it."""

    @pytest.fixture(name=builder.__name__)
    def built(built_state: tuple[Cast, Any], db: None) -> Any:
        return built_state[1]

    BUILDERS[built] = builder
    return built


def shared_state_of(item: Any) -> tuple[bool, Builder | None]:
    """Whether a test asks for the cast, and what it stands on beside it: a fixture of its module made by `stands`."""
    builders = [
        BUILDERS[made] for made in (getattr(item.module, name, None) for name in item.fixturenames) if made in BUILDERS
    ]
    assert len(builders) < 2, "a test stands on one ground"
    return "cast" in item.fixturenames or bool(builders), builders[0] if builders else None
