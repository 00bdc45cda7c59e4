"""Processes killed at random moments while many write: nothing acknowledged may be lost, nothing be there twice."""

import random
import time
from collections import Counter
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from django.db import connection, connections
from django.db.models import Count

from grading.actions.print_runs import request_run
from grading.evidence.audit.check import audit_records
from grading.models import DeviceEvent, PrintRun, Seal, Sheet, Signature, Tap
from tests.cast import Cast
from tests.endurance.browser import Browser
from tests.endurance.installation import Installation, wait_until
from tests.endurance.writers import Acknowledged, Printer, Writer

WRITERS = 4
# What is done to a stand, each with its weight; True where something was hurt.
Damage = Mapping[str, tuple[int, Callable[[], bool]]]


def process_damage(stand: Installation) -> Damage:
    return {"web": (5, stand.kill_web_worker), "jobs": (2, stand.kill_worker), "database": (3, stand.kill_database)}


def connection_damage(stand: Installation) -> Damage:
    return {"connections": (1, stand.end_connections)}


@dataclass
class Outcome:
    account: Acknowledged
    kills: Counter[str] = field(default_factory=Counter)
    ended_by_itself: int = 0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)
    findings: list[str] = field(default_factory=list)
    seals: int = 0
    seconds: float = 0.0

    @property
    def whole(self) -> bool:
        return not (self.lost or self.doubled or self.findings or self.account.wrong)

    def report(self) -> str:
        account = self.account
        return "\n".join(
            [
                f"acknowledged: {len(account.events)} taps, {len(account.signed)} signatures,"
                f" {len(account.sheets)} sheets, in {self.seconds:.0f} s",
                f"killed: {dict(self.kills)}; the worker of the jobs ended by itself {self.ended_by_itself} times",
                f"answers: {dict(account.answers)}",
                f"lost: {len(self.lost)} {self.lost[:5]}",
                f"doubled: {len(self.doubled)} {self.doubled[:5]}",
                f"chain: {self.seals} seals, findings: {self.findings[:5]}",
                *(f"wrong: {what}" for what in account.wrong[:10]),
            ]
        )


def hurt_while_writing(
    stand: Installation,
    cast: Cast,
    harm: Damage,
    *,
    writes: int,
    sheets: int,
    pause: tuple[float, float],
    patience: float = 900.0,
) -> Outcome:
    """Write until `writes` are acknowledged, doing some harm after each pause (least and most seconds)."""
    outcome, start = Outcome(Acknowledged()), time.monotonic()
    runs = [_run(cast), _run(cast)]
    people = [cast.bert, cast.amelia, cast.cleo]
    enrolments = [cast.enrolment, cast.other_enrolment]
    begin = [
        {"enrolment": str(row.uid), "unit": cast.units[8].pk, "on": str(cast.today), "aircraft": cast.aircraft.pk}
        for row in enrolments
    ]
    writers = [
        Writer(Browser(stand.port, people[n % 3]), outcome.account, begin[n % 2], start + patience)
        for n in range(WRITERS)
    ]
    printer = Printer(Browser(stand.port, cast.frida), outcome.account, [str(row.uid) for row in enrolments])
    connections.close_all()
    with ThreadPoolExecutor(WRITERS + 1) as pool:
        jobs = [pool.submit(writer.run, writes) for writer in writers] + [pool.submit(printer.run, sheets)]
        while not all(job.done() for job in jobs):
            time.sleep(random.uniform(*pause))
            _hurt(stand, harm, outcome)
        for job in jobs:
            job.result()
    _finish(stand, runs)
    _hold(outcome, runs)
    outcome.seconds = time.monotonic() - start
    return outcome


def _run(cast: Cast) -> PrintRun:
    return request_run(
        kind="progress", on=cast.today, paper="A4", chosen=PrintRun.Chosen.ACTIVE, by=cast.frida, at=cast.at()
    )


def _hurt(stand: Installation, harm: Damage, outcome: Outcome) -> None:
    outcome.ended_by_itself += stand.watch()
    # Each in turn first, so that a short run has all of them.
    few = [name for name in harm if not outcome.kills[name]]
    name = few[0] if few else random.choices(list(harm), [weight for weight, _ in harm.values()])[0]
    if harm[name][1]():
        outcome.kills[name] += 1


def _finish(stand: Installation, runs: list[PrintRun]) -> None:
    """What waits in the background comes to its end by itself."""
    stand.watch()
    for run in runs:
        wait_until(lambda run=run: stand.watch() or not run.items.filter(sheet=None, problem="").exists())


def _hold(outcome: Outcome, runs: list[PrintRun]) -> None:
    account = outcome.account
    taken = dict(DeviceEvent.objects.values_list("uid", "outcome"))
    on_record = {str(uid): said for uid, said in taken.items()}
    outcome.lost += [f"event {uid}" for uid in account.events if on_record.get(uid) != "applied"]
    taps = {str(uid) for uid in Tap.objects.values_list("uid", flat=True)}
    outcome.lost += [f"tap {uid}" for uid, (_, name) in account.events.items() if name and uid not in taps]
    twice = Tap.objects.values("lesson", "field").order_by().annotate(n=Count("pk")).filter(n__gt=1)
    outcome.doubled += [f"{row['field']} of lesson {row['lesson']}, {row['n']} times" for row in twice]
    outcome.doubled += [f"a tap nobody acknowledged: {uid}" for uid in taps - set(account.events)]
    for model, key, kind in ((Signature, "lesson__uid", {}), (Seal, "subject", {"kind": "lesson"})):
        count = Counter(str(uid) for uid in model.objects.filter(**kind).values_list(key, flat=True))
        outcome.lost += [f"{model.__name__} of {uid}" for uid in account.signed if not count[uid]]
        outcome.doubled += [f"{model.__name__} of {uid}" for uid, n in count.items() if n > 1]
    printed = {str(uid) for uid in Sheet.objects.values_list("uid", flat=True)}
    outcome.lost += [f"sheet {uid}" for uid in account.sheets if uid not in printed]
    for run in runs:
        outcome.lost += [f"item {item.pk}: {item.problem}" for item in run.items.filter(sheet=None)]
    of_runs = sum(run.items.count() for run in runs)
    if len(printed) > account.asked_sheets + of_runs:
        outcome.doubled.append(f"{len(printed)} sheets of {account.asked_sheets + of_runs} asked for")
    report = audit_records()
    outcome.findings = [str(finding) for finding in report.findings]
    outcome.seals = report.seals
    connection.close()
