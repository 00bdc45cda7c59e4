"""The disk of the database fills up while somebody writes, and has room again later."""

import random
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.db import connections

from grading.evidence.audit.check import audit_records
from grading.models import Tap
from tests.cast import Cast
from tests.endurance.browser import Browser, NoAnswer
from tests.endurance.installation import Installation, wait_until

ATTEMPTS = 60
REMARK_LENGTH = 4000  # characters: random ones, which no compression makes small


@dataclass
class Outcome:
    full: Counter[str] = field(default_factory=Counter)
    said: set[str] = field(default_factory=set)
    started_again: bool = False
    acknowledged: int = 0
    lost: int = 0
    doubled: int = 0
    findings: list[str] = field(default_factory=list)

    @property
    def whole(self) -> bool:
        refused = any("disk of the records is full" in page or "cannot be reached" in page for page in self.said)
        return refused and not (self.lost or self.doubled or self.findings)

    def report(self) -> str:
        return (
            f"answers while the disk was full: {dict(self.full)}, saying: {sorted(self.said)}\n"
            f"the database {'had to be started again' if self.started_again else 'went on by itself'} with room again\n"
            f"acknowledged: {self.acknowledged}, lost: {self.lost}, doubled: {self.doubled}, findings: {self.findings}"
        )


def fill_while_writing(stand: Installation, cast: Cast) -> Outcome:
    outcome, lesson = Outcome(), str(uuid.uuid4())
    browser = Browser(stand.port, cast.bert)
    begin = {"enrolment": str(cast.enrolment.uid), "unit": cast.units[8].pk, "on": str(cast.today)}
    _, answer = browser.batch(lesson, str(uuid.uuid4()), [_event("begin", **begin, aircraft=cast.aircraft.pk)])
    assert answer["results"][0]["outcome"] == "applied", answer
    connections.close_all()
    events = [_event("entry", field="lesson.remarks", value=_long()) for _ in range(ATTEMPTS)]
    kept = {event["id"] for event in events[:10] if _sent(browser, lesson, event, None)}
    ballast = stand.cluster / "ballast"
    _fill(ballast)
    kept |= {event["id"] for event in events[10:] if _sent(browser, lesson, event, outcome)}
    ballast.unlink()
    outcome.started_again = not stand.answers()
    stand.start_database()
    wait_until(lambda: browser.ask("GET", "/lessons/")[0] == 200)
    for event in events:  # the tablet sends again what was not acknowledged, and may send all of it
        if event["id"] not in kept:
            wait_until(lambda event=event: _sent(browser, lesson, event, None))
    outcome.acknowledged = len(events)
    taps = Counter(str(uid) for uid in Tap.objects.filter(field="lesson.remarks").values_list("uid", flat=True))
    outcome.lost = sum(event["id"] not in taps for event in events)
    outcome.doubled = sum(taps.values()) - len(taps) + len(set(taps) - {event["id"] for event in events})
    outcome.findings = [str(finding) for finding in audit_records().findings]
    return outcome


def _event(kind: str, **more: Any) -> dict[str, Any]:
    return {"id": str(uuid.uuid4()), "kind": kind, "seq": 1, **more}


def _long() -> str:
    return random.randbytes(REMARK_LENGTH // 2).hex()


def _sent(browser: Browser, lesson: str, event: dict[str, Any], outcome: Outcome | None) -> bool:
    try:
        status, answer = browser.batch(lesson, str(uuid.UUID(int=1)), [event])
    except NoAnswer:
        status, answer = 0, b"no answer"
    if outcome is not None:
        outcome.full[str(status)] += 1
        if status != 200:
            outcome.said.add(answer.partition(b"<h1>")[2].partition(b"</h1>")[0].decode() or str(answer)[:80])
    if status != 200:
        time.sleep(0.1)
    return status == 200


def _fill(ballast: Path) -> None:
    with ballast.open("wb", buffering=0) as file:
        for size in (2**20, 2**12):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:  # no room for a piece of this size
                continue
