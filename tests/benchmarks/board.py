"""The board of an academy: screens at three sizes, time, queries, and all that a browser loads, compressed.

Bytes are what a server with gzip sends to a browser that has nothing yet: the page, style sheets, scripts and fonts.
The first look of a day derives the verdict of every student; the others read what is stored.
"""

import gzip
import os
import platform
import sys
import time
from datetime import datetime

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402
from playwright.sync_api import Browser, Response, sync_playwright  # noqa: E402

from grading.models import StoredVerdict  # noqa: E402
from school.models import Person  # noqa: E402
from tests.benchmarks.figures import measure_time  # noqa: E402
from tests.benchmarks.processes import HOST, TIMEOUT, create_session, start_server  # noqa: E402
from tests.journeys.devices import BROWSER_FLAGS, DESKTOP, PHONE, TABLET, chromium  # noqa: E402

ADDRESS, REPEATS, WORKERS = "/students/", 15, 1
MOST_DERIVED = 500  # more take minutes, in proportion: the daily work derives them before anybody looks
PACKED = (".woff2", ".png")  # of these gzip makes nothing smaller


def browse(browser: Browser, port: int, cookies: dict[str, str], size: tuple[int, int]) -> tuple[float, int, int, int]:
    """Return screens, whole rows on the first screen, and bytes: of the page alone and of all, compressed."""
    width, height = size
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=f"http://{HOST}:{port}")
    context.add_cookies([{"name": name, "value": text, "domain": HOST, "path": "/"} for name, text in cookies.items()])
    page = context.new_page()
    loaded: list[Response] = []
    page.on("response", lambda reply: loaded.append(reply))
    page.goto(ADDRESS)
    page.wait_for_load_state("networkidle")
    screens: float = page.evaluate("document.documentElement.scrollHeight / innerHeight")
    whole: int = page.evaluate(
        "[...document.querySelectorAll('.bt tbody tr')]"
        ".filter((row) => row.getBoundingClientRect().bottom <= innerHeight).length"
    )
    sizes = {reply.url: _packed(reply) for reply in loaded if reply.ok}
    context.close()
    return screens, whole, sizes[f"http://{HOST}:{port}{ADDRESS}"], sum(sizes.values())


def _packed(reply: Response) -> int:
    body = reply.body()
    return len(body) if reply.url.endswith(PACKED) else len(gzip.compress(body, 6))


def main(port: int) -> None:
    chief = Person.objects.get(username="chief")
    client = Client()
    client.force_login(chief)
    first = "–"
    if settings.STUDENTS <= MOST_DERIVED:
        StoredVerdict.objects.update(stale=True)  # as on the first look of a day
        begun = time.monotonic()
        client.get(ADDRESS)
        first = f"{time.monotonic() - begun:.1f}"
    taken = measure_time(lambda: client.get(ADDRESS), REPEATS)
    with CaptureQueriesContext(connection) as queries:
        client.get(ADDRESS)
    cookies = create_session(chief)
    connection.close()
    server = start_server(port, WORKERS)
    try:
        with sync_playwright() as started:
            browser = started.chromium.launch(executable_path=chromium(), args=BROWSER_FLAGS)
            seen = [browse(browser, port, cookies, size) for size in (DESKTOP, TABLET, PHONE)]
            browser.close()
    finally:
        server.terminate()
        server.wait(TIMEOUT)
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    out = sys.stdout
    out.write(f"\n{datetime.now():%Y-%m-%d}, {os.cpu_count()} cores, {platform.machine()}, load {load}\n")
    screens = " / ".join(f"{row[0]:.1f}" for row in seen)
    rows = " / ".join(str(row[1]) for row in seen)
    kilobytes = f"{seen[0][2] / 1000:.0f} | {seen[0][3] / 1000:.0f}"
    times = f"{first} | {taken.middle * 1000:.0f} | {taken.own_middle * 1000:.0f} | {len(queries)}"
    out.write(f"| {settings.STUDENTS:,} | {screens} | {rows} | {times} | {kilobytes} |\n")
    out.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]))
