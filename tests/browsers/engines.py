"""Other makes of browser: each is started, told what to do, and killed as a battery that falls out."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.browsers.webdriver import Http, Marionette, Page

WIDTH, HEIGHT = 820, 1180
WINDOW = Path(__file__).with_name("webkit_window.py")
DEBIAN = {
    "WebKitWebDriver": "webkit2gtk-driver gir1.2-webkit2-4.1 python3-gi",
    "Xvfb": "xvfb",
    "firefox-esr": "firefox-esr",
    "firefox": "firefox-esr",
}


def program(*names: str) -> str:
    for name in names:
        if found := shutil.which(name):
            return found
    raise RuntimeError(f"{names[0]} is missing. On Debian: apt-get install {DEBIAN[names[0]]}")


def free_port() -> int:
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        port: int = asked.getsockname()[1]
        return port


def wait(true: Callable[[], Any], what: str, seconds: float = 60) -> Any:
    end = time.monotonic() + seconds
    while not (found := true()):
        assert time.monotonic() < end, f"{what} did not start"
        time.sleep(0.05)
    return found


def listens(port: int) -> bool:
    with socket.socket() as asked:
        return asked.connect_ex(("127.0.0.1", port)) == 0


class Engine(ABC):
    """One browser with one folder, for one journey."""

    name, finger = "", "touch"

    def __init__(self, folder: Path) -> None:
        self.folder, self.programs = folder, list[subprocess.Popen[bytes]]()
        self.page: Page | None = None

    def start(self, *command: str, **more: str) -> subprocess.Popen[bytes]:
        with (self.folder / f"{self.name}.log").open("ab") as log:
            started = subprocess.Popen(
                command, stdout=log, stderr=log, start_new_session=True, env={**os.environ, **more}
            )
        self.programs.append(started)
        return started

    @abstractmethod
    def open(self) -> Page:
        """Start it, or start it again with what it kept."""

    def kill(self) -> None:
        """Without a chance to tidy up; what the browser keeps stays in its folder."""
        if self.page:
            self.page.wire.close()
        self.page = None
        for one in reversed(self.programs):
            with contextlib.suppress(ProcessLookupError):
                os.killpg(one.pid, signal.SIGKILL)
            one.wait()
        self.programs.clear()


class WebKit(Engine):
    """WebKitGTK on a display that nobody sees. Its driver has no touch: a mouse touches."""

    name, finger = "webkit", "mouse"

    def open(self) -> Page:
        # The display's number is the first that is free, and it writes which.
        reader, writer = os.pipe()
        display = subprocess.Popen(
            [program("Xvfb"), "-displayfd", str(writer), "-screen", "0", f"{WIDTH}x{HEIGHT}x24", "-nolisten", "tcp"],
            pass_fds=[writer], stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        self.programs.append(display)
        os.close(writer)
        with os.fdopen(reader) as told:
            number = told.readline().strip()
        port = free_port()
        self.start(program("WebKitWebDriver"), f"--port={port}", DISPLAY=f":{number}", **self.quiet())
        wait(lambda: listens(port), "WebKit's driver")
        wire = Http(port)
        window = {"binary": "/usr/bin/python3", "args": [str(WINDOW), str(self.folder), str(WIDTH), str(HEIGHT)]}
        wire.send("NewSession", capabilities={"alwaysMatch": {"webkitgtk:browserOptions": window}})
        wire.send("SetTimeouts", script=60_000, pageLoad=60_000)
        self.page = Page(wire, self.finger)
        return self.page

    def quiet(self) -> dict[str, str]:
        # Its own sandbox asks for rights that a test has not; no graphics card, no session bus.
        return {"WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1", "LIBGL_ALWAYS_SOFTWARE": "1", "NO_AT_BRIDGE": "1",
                "GSETTINGS_BACKEND": "memory", "XDG_RUNTIME_DIR": str(self.folder)}  # fmt: skip


class Firefox(Engine):
    """Firefox without a window; it is told over its own socket, so that no driver is needed."""

    name = "firefox"

    def open(self) -> Page:
        profile = self.folder / "profile"
        profile.mkdir(exist_ok=True)
        settings = {"marionette.port": 0, "datareporting.policy.dataSubmissionEnabled": False,
                    "app.update.disabledForTesting": True, "network.captive-portal-service.enabled": False,
                    "network.connectivity-service.enabled": False,
                    "services.settings.server": "data:,#remote-settings-dummy/v1", "dom.w3c_touch_events.enabled": 1,
                    "browser.shell.checkDefaultBrowser": False, "browser.startup.page": 0}  # fmt: skip
        lines = [f'user_pref("{name}", {_js(value)});' for name, value in settings.items()]
        (profile / "user.js").write_text("\n".join(lines))
        told = profile / "MarionetteActivePort"
        told.unlink(missing_ok=True)
        self.start(
            program("firefox-esr", "firefox"), "--headless", "--marionette", "--no-remote", "--profile", str(profile),
            f"--width={WIDTH}", f"--height={HEIGHT}", "about:blank", HOME=str(self.folder),
        )  # fmt: skip
        port = int(wait(lambda: told.exists() and told.read_text(), "Firefox"))
        wire = Marionette(port)
        wire.send("NewSession", capabilities={"alwaysMatch": {}})
        wire.send("SetTimeouts", script=60_000, pageLoad=60_000)
        self.page = page = Page(wire, self.finger)
        inner = page.run("[outerWidth - innerWidth, outerHeight - innerHeight]")
        wire.send("SetWindowRect", width=WIDTH + inner[0], height=HEIGHT + inner[1])
        return page


def _js(value: object) -> str:
    return {True: "true", False: "false"}[value] if isinstance(value, bool) else repr(value).replace("'", '"')


ENGINES: dict[str, type[Engine]] = {one.name: one for one in (WebKit, Firefox)}
