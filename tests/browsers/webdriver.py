"""What a browser is told, in the commands of W3C WebDriver, over HTTP or over Firefox's own socket."""

import base64
import http.client
import json
import os
import socket
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, Protocol

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # W3C WebDriver, section 12 "Elements"
# The middle of an element in the window, once it rests; or what is wrong with it.
PLACE_SCRIPT = """(async () => { const one = document.querySelector(values[0]);
    if (!one) return "is not there";
    one.scrollIntoView({ block: "center", behavior: "instant" });
    const middle = () => { const box = one.getBoundingClientRect();
        return [Math.round(box.x + box.width / 2), Math.round(box.y + box.height / 2)]; };
    const before = middle();
    await new Promise((done) => setTimeout(done, 60));
    const [x, y] = middle(), top = document.elementFromPoint(x, y);
    if (x !== before[0] || y !== before[1]) return "moves";
    if (!top) return "lies outside the window";
    if (one !== top && !one.contains(top) && !(top.contains(one) && one.matches("input")))
        return `is covered by ${top.outerHTML.slice(0, 80)}`;
    return [x, y]; })()"""
PATIENCE = float(os.environ.get("PATIENCE", "60"))


class Failure(Exception):
    """The browser refused a command; its words."""


class Wire(Protocol):
    def send(self, command: str, **values: Any) -> Any: ...

    def close(self) -> None: ...


class Http:
    """W3C WebDriver as the standard has it: each command a path."""

    PATHS = {
        "NewSession": ("POST", ""),
        "DeleteSession": ("DELETE", ""),
        "Navigate": ("POST", "/url"),
        "Refresh": ("POST", "/refresh"),
        "ExecuteScript": ("POST", "/execute/sync"),
        "ExecuteAsyncScript": ("POST", "/execute/async"),
        "PerformActions": ("POST", "/actions"),
        "ReleaseActions": ("DELETE", "/actions"),
        "TakeScreenshot": ("GET", "/screenshot"),
        "SetWindowRect": ("POST", "/window/rect"),
        "AddCookie": ("POST", "/cookie"),
        "SetTimeouts": ("POST", "/timeouts"),
    }

    def __init__(self, port: int) -> None:
        self.port, self.session = port, ""

    def send(self, command: str, **values: Any) -> Any:
        method, path = self.PATHS[command]
        where = f"/session/{self.session}{path}" if self.session else "/session"
        body = json.dumps(values) if method == "POST" else None
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)) as connection:
            connection.request(method, where, body, {"Content-Type": "application/json"})
            value = json.loads(connection.getresponse().read())["value"]
        if isinstance(value, dict) and "error" in value:
            raise Failure(f"{command}: {value['error']}: {value.get('message', '')}")
        if command == "NewSession":
            self.session = value["sessionId"]
        return value

    def close(self) -> None:
        """Each command has had a connection of its own."""


class Marionette:
    """The same commands over the socket of a Firefox that was started with -marionette."""

    def __init__(self, port: int) -> None:
        self.socket, self.number = socket.create_connection(("127.0.0.1", port), timeout=120), 0
        self.rest = b""
        self.read()

    def send(self, command: str, **values: Any) -> Any:
        self.number += 1
        text = json.dumps([0, self.number, f"WebDriver:{command}", values]).encode()
        self.socket.sendall(b"%d:%s" % (len(text), text))
        _, _, error, value = self.read()
        if error:
            raise Failure(f"{command}: {error['error']}: {error['message']}")
        return value["value"] if isinstance(value, dict) and set(value) == {"value"} else value

    def read(self) -> Any:
        while b":" not in self.rest:
            self.rest += self.more()
        length, _, self.rest = self.rest.partition(b":")
        while len(self.rest) < int(length):
            self.rest += self.more()
        text, self.rest = self.rest[: int(length)], self.rest[int(length) :]
        return json.loads(text)

    def close(self) -> None:
        self.socket.close()

    def more(self) -> bytes:
        got = self.socket.recv(65536)
        if not got:
            raise Failure("the browser has gone")
        return got


class Page:
    """One window, as big as a tablet, and a finger for it."""

    def __init__(self, wire: Wire, finger: str) -> None:
        self.wire, self.finger = wire, finger

    def run(self, script: str, *values: Any) -> Any:
        """The value of an expression; a promise is waited for."""
        body = (
            "const done = arguments[arguments.length - 1], values = [...arguments].slice(0, -1);"
            f" (async () => ({script}))().then((value) => done([value ?? null, null]),"
            " (error) => done([null, `${error.name}: ${error.message}`]));"
        )
        answer = self.wire.send("ExecuteAsyncScript", script=body, args=list(values))
        if answer is None:
            raise Failure("the page was left meanwhile")
        value, error = answer
        if error:
            raise Failure(error)
        return value

    def open(self, address: str) -> None:
        self.wire.send("Navigate", url=address)

    def opened(self, address: str, mark: str = "html[data-ready]") -> None:
        self.open(address)
        self.wait_for(mark)

    def wait_until(self, true: Callable[[], Any], what: str) -> Any:
        end = time.monotonic() + PATIENCE
        while True:
            try:
                if found := true():
                    return found
                why = ""
            except Failure as failure:  # the page was being replaced
                why = f" ({failure})"
            assert time.monotonic() < end, f"waited in vain for {what}{why}"
            time.sleep(0.05)

    def wait_for(self, selector: str) -> None:
        self.wait_until(lambda: self.run("Boolean(document.querySelector(values[0]))", selector), selector)

    def wait_for_text(self, selector: str, words: str) -> None:
        def said() -> bool:
            return words in self.text(selector)

        try:
            self.wait_until(said, words)
        except AssertionError as vain:
            raise AssertionError(f"{selector} says “{self.text(selector)}”, not “{words}”") from vain

    def text(self, selector: str) -> str:
        found: str = self.run(
            "document.querySelector(values[0])?.innerText.replace(/\\s+/g, ' ').trim() ?? ''", selector
        )
        return found

    def checked(self, identity: str) -> bool:
        return bool(self.run("document.getElementById(values[0])?.checked", identity))

    def place(self, selector: str) -> tuple[int, int]:
        """Where a finger would touch it: scrolled to, nothing over it; what still moves is waited for."""

        def found() -> tuple[int, int] | None:
            seen = self.run(PLACE_SCRIPT, selector)
            if isinstance(seen, str):
                raise Failure(f"it {seen}")
            return seen[0], seen[1]

        where: tuple[int, int] = self.wait_until(found, f"a place to touch {selector}")
        return where

    def touch(self, selector: str) -> None:
        self.draw([self.place(selector)])

    def draw(self, points: list[tuple[int, int]]) -> None:
        """A finger goes down at the first place, over the others, and up."""
        moves: list[dict[str, Any]] = [
            {"type": "pointerMove", "x": x, "y": y, "duration": 30, "origin": "viewport"} for x, y in points
        ]
        steps = [moves[0], {"type": "pointerDown", "button": 0}, *moves[1:], {"type": "pointerUp", "button": 0}]
        finger = {"type": "pointer", "id": "finger", "parameters": {"pointerType": self.finger}, "actions": steps}
        self.wire.send("PerformActions", actions=[finger])
        self.wire.send("ReleaseActions")

    def type(self, selector: str, words: str) -> None:
        self.touch(selector)
        keys = [{"type": kind, "value": letter} for letter in words for kind in ("keyDown", "keyUp")]
        self.wire.send("PerformActions", actions=[{"type": "key", "id": "keys", "actions": keys}])
        self.wire.send("ReleaseActions")
        self.wait_until(lambda: self.run("document.querySelector(values[0]).value", selector) == words, words)

    def picture(self, file: Path) -> None:
        file.write_bytes(base64.b64decode(self.wire.send("TakeScreenshot")))
