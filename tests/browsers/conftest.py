"""A browser of another make for each journey, with a network that can be cut."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

import pytest
from django.conf import settings
from django.db import connection

from tests.browsers.engines import ENGINES, Engine
from tests.journeys.network import Network


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "engine" in metafunc.fixturenames:
        metafunc.parametrize("engine", os.environ.get("BROWSERS", " ".join(ENGINES)).split(), indirect=True)


@pytest.fixture(scope="session")
def django_db_modify_db_settings_xdist_suffix() -> None:
    """A database of its own, because the suite may run beside it."""
    connection.settings_dict["TEST"]["NAME"] = "test_browsers"


@pytest.fixture
def network(live_server: Any) -> Iterator[Network]:
    between = Network(urlparse(live_server.url).port)
    yield between
    between.close()


@pytest.fixture
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    one = ENGINES[request.param](tmp_path)
    yield one
    see(one, f"{request.node.originalname.removeprefix('test_')[:40]}-last")
    one.kill()


def see(engine: Engine, name: str) -> None:
    """A picture of the page, where a folder for pictures was named."""
    if (folder := os.environ.get("PICTURES")) and engine.page:
        place = settings.BASE_DIR / folder
        place.mkdir(parents=True, exist_ok=True)
        engine.page.picture(place / f"{engine.name}-{name}.png")
