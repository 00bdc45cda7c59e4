"""A browser for the journeys, with one page for each role or with tablets of their own."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect, sync_playwright

from tests.journeys.devices import (
    BROWSER_FLAGS,
    TABLET,
    TIMEOUT_MS,
    NewDevice,
    OpenPage,
    Tablet,
    chromium,
    let_in,
    type_password,
)
from tests.journeys.network import Network


@pytest.fixture(scope="package")
def playwright() -> Iterator[Playwright]:
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    expect.set_options(timeout=TIMEOUT_MS)
    with sync_playwright() as started:
        yield started
    expect.set_options(timeout=5000)
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="package")
def browser(playwright: Playwright) -> Iterator[Browser]:
    opened = playwright.chromium.launch(executable_path=chromium(), args=BROWSER_FLAGS)
    yield opened
    opened.close()


@pytest.fixture
def network(live_server: Any) -> Iterator[Network]:
    between = Network(urlparse(live_server.url).port)
    yield between
    between.close()


@pytest.fixture
def enter(browser: Browser, live_server: Any) -> Iterator[OpenPage]:
    contexts = []
    troubles: list[str] = []

    def log_in(username: str, size: tuple[int, int], script: bool = True, by_hand: bool = False) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=True, java_script_enabled=script,
            base_url=live_server.url,
        )  # fmt: skip
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        if by_hand:
            type_password(page, f"{live_server.url}/login/", username)
            return page
        let_in(context, live_server.url, username)
        page.goto("/")
        return page

    yield log_in
    for context in contexts:
        context.close()
    assert troubles == []


@pytest.fixture
def device(browser: Browser, network: Network) -> Iterator[NewDevice]:
    """Another tablet each time it is called."""
    contexts = []

    def new(**options: Any) -> BrowserContext:
        context = browser.new_context(
            viewport={"width": TABLET[0], "height": TABLET[1]}, has_touch=True, base_url=network.url, **options
        )
        context.set_default_timeout(TIMEOUT_MS)
        contexts.append(context)
        return context

    yield new
    for context in contexts:
        context.close()


@pytest.fixture
def tablet(playwright: Playwright, network: Network, tmp_path: Path) -> Iterator[Tablet]:
    one = Tablet(playwright, tmp_path / "tablet", network)
    one.folder.mkdir()
    yield one
    if one.process.poll() is None:
        one.kill()
    shutil.rmtree(one.folder, ignore_errors=True)
