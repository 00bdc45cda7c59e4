"""Those who write while things break: instructors with tablets who sign, an administrator who prints.

Each keeps its own account of what the school acknowledged, to be held against what is on record afterwards.
"""

import random
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from threading import Lock
from typing import Any

from tests.cast import SECRET
from tests.endurance.browser import Browser, NoAnswer

CIRCUITS, AT_ONCE, WAIT = 6, 4, 0.2
LEVELS = ("explain", "practice", "perform")


@dataclass
class Acknowledged:
    """Acknowledged writes, and how often none came. `wrong`: answers that should not be."""

    events: dict[str, tuple[str, str]] = field(default_factory=dict)  # id of the event: lesson, field
    signed: list[str] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    asked_sheets: int = 0
    answers: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)

    @property
    def acknowledged(self) -> int:
        return len(self.events) + len(self.signed) + len(self.sheets)

    def note(self, answer: str) -> None:
        with self.lock:
            self.answers[answer] += 1


@dataclass
class Writer:
    """Writes whole lessons by batches and signs each; what is not acknowledged is sent again, word for word."""

    browser: Browser
    account: Acknowledged
    begin: dict[str, Any]
    until: float
    device: str = field(default_factory=lambda: str(uuid.uuid4()))

    def run(self, enough: int) -> None:
        while self.account.acknowledged < enough and time.monotonic() < self.until:
            lesson = str(uuid.uuid4())
            events = self._events()
            for start in range(0, len(events), AT_ONCE):
                self._send(lesson, events[start : start + AT_ONCE])
            self._sign(lesson)

    def _events(self) -> list[dict[str, Any]]:
        fields = [("lesson.dual_minutes", "1:00"), ("lesson.remarks", f"Seen: {uuid.uuid4()} 🛩️")]
        for number in range(1, CIRCUITS + 1):
            parts = ("takeoff", "downwind", "approach", "landing")
            fields += [(f"circuit.{number}.{part}.level", random.choice(LEVELS)) for part in parts]
            fields.append((f"circuit.{number}.closed", "on"))
        events: list[dict[str, Any]] = [{"kind": "begin", **self.begin}]
        events += [{"kind": "entry", "field": name, "value": value} for name, value in fields]
        return [event | {"id": str(uuid.uuid4()), "seq": place} for place, event in enumerate(events, 1)]

    def _send(self, lesson: str, events: list[dict[str, Any]]) -> None:
        while time.monotonic() < self.until:
            try:
                status, answer = self.browser.batch(lesson, self.device, events)
            except NoAnswer:
                self.account.note("no answer")
            else:
                self.account.note(str(status))
                if status == 200:
                    return self._taken(lesson, events, answer)
                if status != 503:
                    self.account.wrong.append(f"a batch was answered {status}: {answer!r:.200}")
                    return None
            time.sleep(WAIT)
        self.account.wrong.append("a batch was not taken in time")
        return None

    def _taken(self, lesson: str, events: list[dict[str, Any]], answer: dict[str, Any]) -> None:
        for event, result in zip(events, answer["results"], strict=True):
            if result["outcome"] not in ("applied", "known"):
                self.account.wrong.append(f"refused: {event} {result}")
            with self.account.lock:
                self.account.events[event["id"]] = (lesson, event.get("field", ""))

    def _sign(self, lesson: str) -> None:
        unsure = False
        while time.monotonic() < self.until:
            try:
                status, _, page = self.browser.post(f"/lessons/{lesson}/sign/", secret=SECRET)
            except NoAnswer:
                self.account.note("no answer")
                unsure = True
            else:
                self.account.note(str(status))
                # 403: signed already, by the try that was not answered.
                if status == 302 or (status == 403 and unsure and b"signed and final" in page):
                    with self.account.lock:
                        self.account.signed.append(lesson)
                    return
                if status == 503:
                    unsure = True
                else:
                    self.account.wrong.append(f"a signature was answered {status}: {page[-600:]!r}")
                    return
            time.sleep(WAIT)


@dataclass
class Printer:
    """Prints sheets one after the other. A sheet has no id before it is made, so a lost answer is not asked again."""

    browser: Browser
    account: Acknowledged
    students: list[str]

    def run(self, sheets: int) -> None:
        while len(self.account.sheets) < sheets and self.account.asked_sheets < 20 * sheets + 100:
            self.account.asked_sheets += 1
            try:
                where = f"/records/{random.choice(self.students)}/sheets/"
                status, headers, _ = self.browser.post(where, kind="progress", paper="A4")
            except NoAnswer:
                self.account.note("no answer")
                time.sleep(WAIT)
                continue
            self.account.note(str(status))
            if status == 302:
                self.account.sheets.append(headers["location"].removeprefix("/sheets/").removesuffix(".pdf"))
            elif status == 503:
                time.sleep(WAIT)
            else:
                self.account.wrong.append(f"a sheet was answered {status}")
