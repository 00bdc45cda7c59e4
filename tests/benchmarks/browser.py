"""A tap on the lesson page as its instructor's tablet has it: until the device stores it, until the school has it.

Chromium runs with a folder on the disk, because a window without one stores in memory only, and it is tapped through
its own touch events. Each tap is measured in the page, and right after it, in the same page, its two floors:

- one row of the same content written to IndexedDB, which is what any page must do before it may say that a tap is safe;
- one request to a bare view behind the same middleware, which is what any page must wait for before it may say that
  the school has it.

And when the finger sees it: the frame in which the key looks pressed, and the one in which the pad has turned to the
next circuit, with network and without. The floor is the frame after the tap itself. Aimed at: 50 ms at the median and
100 ms at the 95th.
"""

import os
import platform
import sys
import tempfile
from datetime import datetime
from typing import Any

import django

django.setup()

from django.conf import settings  # noqa: E402 - models are there only after setup
from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402
from playwright.sync_api import Page, sync_playwright  # noqa: E402

from tests.benchmarks.figures import TABLE_HEAD, Figure, Timing  # noqa: E402
from tests.benchmarks.load import lessons_to_tap  # noqa: E402
from tests.benchmarks.processes import HOST, TIMEOUT, create_session, start_server  # noqa: E402
from tests.journeys.devices import BROWSER_FLAGS, TABLET, chromium  # noqa: E402

TAPS, WARM_UP, WORKERS, CIRCUITS = 60, 5, 2, 20

# Runs before the page's own scripts. It changes nothing that the page does: it only listens to the transaction that
# stores a tap, after the page itself has heard that it is on the disk.
WATCH = """(() => {
    let begun = 0, heard = null;
    // The page hears the finger lift: how the touch of a test program reaches the page is not the page's doing.
    addEventListener("pointerup", () => { begun = performance.now(); }, true);
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (row, ...more) {
        if (row?.kind === "entry" && row.state === "waiting") {
            this.transaction.addEventListener("complete", () => heard?.(row), { once: true });
        }
        return put.call(this, row, ...more);
    };
    // Arms the watch. `measured` comes after the tap: milliseconds until the device stores and shows it, and until the
    // page says that the school has it.
    window.nextTap = () => { window.measured = new Promise((resolve, reject) => {
        heard = (row) => {
            heard = null;
            const key = document.querySelector(`[name="${CSS.escape(row.field)}"]:checked`);
            if (key?.value !== row.value) { reject(new Error(`${row.field} is not shown as chosen`)); return; }
            key.closest("label").getBoundingClientRect(); // drawn as far as a script can ask for it
            const device = performance.now() - begun;
            const line = document.getElementById("saved");
            const saved = () => line.textContent.includes("All saved");
            const done = () => resolve({ row, device, school: performance.now() - begun });
            if (saved()) { done(); return; }
            const observer = new MutationObserver(() => { if (saved()) { observer.disconnect(); done(); } });
            observer.observe(line, { childList: true, characterData: true, subtree: true });
        };
    }); };
    let opening = null;
    const open = () => opening ??= new Promise((resolve, reject) => {
        const request = indexedDB.open("floor", 1);
        request.onupgradeneeded = () => request.result.createObjectStore("rows", { autoIncrement: true });
        request.onsuccess = () => resolve(request.result);
        request.onerror = () => reject(request.error);
    });
    // From the finger that lifts to the frame in which the page looks as the tap makes it.
    window.watch = (looks) => { window.seen = new Promise((done) => {
        addEventListener("pointerup", () => {
            const look = () => requestAnimationFrame(looks() ? () => done(performance.now() - begun) : look);
            look();
        }, { once: true });
    }); };
    window.floors = async ({ n, ...row }) => {
        const database = await open();
        const first = performance.now();
        await new Promise((resolve, reject) => {
            const step = database.transaction("rows", "readwrite", { durability: "strict" });
            step.oncomplete = resolve;
            step.onabort = step.onerror = () => reject(step.error);
            step.objectStore("rows").put(row);
        });
        const second = performance.now();
        await (await fetch("/bare/0/", { cache: "no-store" })).text();
        return { write: second - first, round_trip: performance.now() - second };
    };
})()"""

# A level that is not chosen, of one part of the circuit after the other.
NEXT_KEY = """(turn) => {
    const keys = [...document.querySelectorAll('#now input[type=radio][name$=".level"]')]
        .filter((key) => key.closest("label").checkVisibility()); // that of a go-around is folded
    const parts = [...new Set(keys.map((key) => key.name))];
    const part = keys.filter((key) => key.name === parts[turn % parts.length]);
    return part.slice(-2).find((key) => !key.checked).id;
}"""


def tap(page: Page, turn: int) -> dict[str, float]:
    """Tap one key with a finger, and measure the tap and then its floors."""
    key = page.evaluate(NEXT_KEY, turn)
    page.evaluate("nextTap()")
    page.locator(f'#pad label:has([id="{key}"])').tap()
    measured: dict[str, Any] = page.evaluate("measured")
    floors: dict[str, float] = page.evaluate("floors", measured["row"])
    return {"device": measured["device"], "school": measured["school"]} | floors


def see_tap(page: Page, key: str, looks: str) -> float:
    """Tap a key and return the milliseconds until the page looks as a script says."""
    page.evaluate(f"watch(() => {looks})")
    page.locator(key).tap()
    seen: float = page.evaluate("seen")
    return seen


def see_circuits(page: Page, count: int) -> dict[str, list[float]]:
    """Tap a level and the main key in one circuit after the other; in between a tap that changes nothing."""
    times: dict[str, list[float]] = {"frame": [], "key": [], "circuit": []}
    for turn in range(count):
        key = page.evaluate(NEXT_KEY, turn)
        number = int(page.locator("#now").get_attribute("data-number") or 0)
        times["frame"].append(see_tap(page, "#pad-name", "true"))
        chosen = f"document.getElementById({key!r}).checked"
        times["key"].append(see_tap(page, f'#pad label:has([id="{key}"])', chosen))
        turned = f"document.getElementById('now').dataset.number === '{number + 1}'"
        times["circuit"].append(see_tap(page, "#main-key", turned))
        page.wait_for_timeout(1000)  # a second closing within a second is a finger that bounces
    return times


def seen_figures(times: dict[str, list[float]], where: str) -> list[Figure]:
    frame, key, circuit = (Timing(sorted(took / 1000 for took in times[name])) for name in ("frame", "key", "circuit"))
    note = f"{CIRCUITS} circuits; floor: the frame after a tap"
    return [
        Figure(f"a key of the pad seen pressed, {where}", key, frame, note),
        Figure(f"the next circuit seen on the pad, {where}", circuit, frame, note),
    ]


def measure(port: int) -> list[Figure]:
    """Tap on a lesson that is being written, and return the figures of the device and of the school."""
    lesson = lessons_to_tap(timezone.localdate())[0]
    cookies = create_session(lesson.instructor)
    connection.close()
    server = start_server(port, WORKERS)
    try:
        with tempfile.TemporaryDirectory(prefix="benchmark-", dir="/var/tmp") as folder, sync_playwright() as started:
            context = started.chromium.launch_persistent_context(
                folder, executable_path=chromium(), args=BROWSER_FLAGS, has_touch=True,
                viewport={"width": TABLET[0], "height": TABLET[1]}, base_url=f"http://{HOST}:{port}",
            )  # fmt: skip
            context.add_cookies(
                [{"name": name, "value": value, "domain": HOST, "path": "/"} for name, value in cookies.items()]
            )
            context.set_default_timeout(TIMEOUT * 1000)
            context.add_init_script(WATCH)
            page = context.new_page()
            page.goto(f"/lessons/{lesson.uid}/#circuits")
            page.wait_for_selector("html[data-ready]", state="attached")
            taps = [tap(page, turn) for turn in range(WARM_UP + TAPS)][WARM_UP:]
            seen = seen_figures(see_circuits(page, CIRCUITS), "with network")
            context.set_offline(True)
            seen += seen_figures(see_circuits(page, CIRCUITS), "without")
            context.close()
    finally:
        server.terminate()
        server.wait(TIMEOUT)
    device, school, write, round_trip = (
        Timing(sorted(row[name] / 1000 for row in taps)) for name in ("device", "school", "write", "round_trip")
    )
    return [
        Figure("a tap stored on the tablet", device, write, f"{TAPS} taps, key chosen; floor: one row in IndexedDB"),
        Figure("the same tap saved by the school", school, round_trip, "as its page says; floor: one empty round trip"),
        *seen,
    ]


def main(port: int) -> None:
    figures = measure(port)
    load = ", ".join(f"{value:.1f}" for value in os.getloadavg())
    out = sys.stdout
    out.write(f"\n{datetime.now():%Y-%m-%d}, {settings.STUDENTS} students, taps in Chromium; {os.cpu_count()} cores,")
    out.write(f" {platform.machine()}, load {load}\n\n{TABLE_HEAD}" + "\n".join(row.line for row in figures) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]))
