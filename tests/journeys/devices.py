"""Tablets for the journeys: browsers with a network that can be cut, and a server that can be killed."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection
from django.test import Client
from playwright.sync_api import BrowserContext, Page, Playwright, expect

from lessons.models import Lesson
from school.models import Person
from tests.cast import SECRET
from tests.journeys.network import Network

BROWSER_FLAGS = [
    "--in-process-gpu", "--no-zygote", "--disable-site-isolation-trials",  # fewer processes: nothing hostile is opened
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
TABLET, PHONE, DESKTOP = (820, 1180), (390, 844), (1440, 900)


# Debian's build of Chromium without its windows goes first: the same journeys take a third less of the processor.
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")


def chromium() -> str:
    """The browser of the journeys; CHROMIUM names another one."""
    for name in (os.environ.get("CHROMIUM", ""), *BROWSERS):
        if name and (found := shutil.which(name)):
            return found
    raise RuntimeError("The journeys need Chromium: bash .ci/install tests")


# Reads and presses through the page's own inputs, as a finger does; a circuit that is closed is waited for.
PRESS_KEYS_SCRIPT = """async (ids) => { for (const id of ids) {
    const now = document.getElementById("now"), old = now?.dataset.number;
    document.getElementById(id).click();
    const turns = id === "close-key";
    for (let i = 0; turns && document.getElementById("now").dataset.number === old && i < 500; i++)
        await new Promise((done) => setTimeout(done, 10));
} }"""
TIMEOUT_MS = 30_000  # for a machine with much else to do
ONLINE_SCRIPT = "dispatchEvent(new Event('online'))"


NewDevice = Callable[..., BrowserContext]
OpenPage = Callable[..., Page]


class Tablet:
    """A browser that is started, and killed, as a program of its own; what it keeps stays in its folder."""

    def __init__(self, playwright: Playwright, folder: Path, network: Network) -> None:
        self.playwright, self.folder, self.network = playwright, folder, network

    def open(self) -> Page:
        port_file = self.folder / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        flags = [
            *BROWSER_FLAGS,
            "--headless",
            "--remote-debugging-port=0",
            f"--user-data-dir={self.folder}",
            "about:blank",
        ]
        self.process = subprocess.Popen(
            [chromium(), *flags], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        wait_until(lambda: port_file.exists() and port_file.read_text().count("\n") >= 1)
        port = port_file.read_text().split("\n")[0]
        self.browser = self.playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
        context = self.browser.contexts[0]
        context.set_default_timeout(TIMEOUT_MS)
        return context.pages[0]

    def kill(self) -> None:
        """As a battery that falls out: the browser's own process, without a chance to tidy up."""
        self.process.kill()
        self.process.wait()
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)  # its children, which would follow by themselves
        self.browser.close()

    def close(self) -> None:
        """As somebody who shuts it down: what the browser keeps lazily, such as who is logged in, is written."""
        self.browser.new_browser_cdp_session().send("Browser.close")
        self.process.wait()


def wait_until(true: Callable[[], Any], seconds: float = 30) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


def assert_no_sideways_scroll(page: Page) -> None:
    wide = """() => { const room = document.documentElement.clientWidth;
        if (document.documentElement.scrollWidth <= room) return [];
        return [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > room + 1)
            .map(e => `${e.tagName} ${e.className} ${e.id}`) }"""
    assert page.evaluate(wide) == []


def log_in(page: Page, network: Network, username: str) -> None:
    type_password(page, f"{network.url}/login/", username)


def type_password(page: Page, door: str, username: str) -> None:
    page.goto(door)
    page.get_by_label("Login name").fill(username)
    page.get_by_label("Password").fill(SECRET)
    page.get_by_role("button", name="Log in").click()
    expect_logged_in(page)


def expect_logged_in(page: Page) -> None:
    expect(page.locator("#person-menu")).to_be_attached()


def log_out(page: Page) -> None:
    """Open the menu that the width shows, and log out."""
    opener = page.locator("#person-menu > summary")
    (opener if opener.is_visible() else page.locator(".fold > summary")).click()
    page.get_by_role("button", name="Log out", exact=True).click()


def wait_for_offline_pack(page: Page, network: Network) -> None:
    """The list of lessons has brought everything for the day onto the device."""
    page.goto(f"{network.url}/lessons/")
    page.wait_for_selector("html[data-stocked]", state="attached")


def let_in(context: BrowserContext, url: str, username: str) -> None:
    """As somebody who has logged in before: without the pages of logging in and the first page after it."""
    client = Client()
    client.force_login(Person.objects.get(username=username))
    context.add_cookies([{"name": name, "value": morsel.value, "url": url} for name, morsel in client.cookies.items()])


def open_lesson(
    context: BrowserContext, network: Network, lesson: Lesson, username: str = "bert", by_hand: bool = True
) -> Page:
    """By hand where the journey is about what logging in leaves on the device."""
    page = context.new_page()
    if by_hand:
        log_in(page, network, username)
    else:
        let_in(context, network.url, username)
    page.goto(f"/lessons/{lesson.uid}/")
    page.wait_for_selector("html[data-ready]", state="attached")
    return page


def wait_until_saved(page: Page) -> None:
    page.evaluate(ONLINE_SCRIPT)
    expect(page.locator("#saved")).to_contain_text("All saved in the school’s record")


class Server:
    """The application in a process of its own, on the database of the tests."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        served = "from tests.settings import *\nDATABASES['default']['NAME'] = "
        (folder / "served.py").write_text(f"{served}{connection.settings_dict['NAME']!r}\n")
        path = f"{folder}{os.pathsep}{settings.BASE_DIR}"
        self.environment = {**os.environ, "DJANGO_SETTINGS_MODULE": "served", "PYTHONPATH": path}

    def start(self) -> None:
        command = [
            sys.executable,
            "-m",
            "gunicorn",
            "school.wsgi",
            "--bind",
            f"127.0.0.1:{self.port}",
            "--threads",
            "4",
        ]
        self.process = subprocess.Popen(
            command, env=self.environment, stderr=subprocess.DEVNULL, start_new_session=True
        )

    def answers(self) -> bool:
        with socket.socket() as asked:
            return asked.connect_ex(("127.0.0.1", self.port)) == 0

    def kill(self) -> None:
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
