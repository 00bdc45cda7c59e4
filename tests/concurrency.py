"""Run acts of several people at one moment, each on a connection of its own, and look at what came of them."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from django.db import connection

from grading.evidence.audit.check import audit_records
from school.errors import Refusal

REPEATS = 3
Act = Callable[[], Any]


def run_concurrently(work: Callable[[Any], Any], things: list[Any], threads: int) -> list[Any]:
    """Each thread on a connection of its own, all beginning together; a refusal is given back as its sentence."""
    gate = Barrier(threads)
    shares: list[list[Any]] = [things[place::threads] for place in range(threads)]

    def run(share: list[Any]) -> list[Any]:
        gate.wait(60)
        try:
            return [_result_or_refusal(work, thing) for thing in share]
        finally:
            connection.close()

    with ThreadPoolExecutor(threads) as pool:
        return [done for share in pool.map(run, shares) for done in share]


def _result_or_refusal(work: Callable[[Any], Any], thing: Any) -> Any:
    try:
        return work(thing)
    except Refusal as refusal:
        return str(refusal)


def run_together(*acts: Act) -> list[Any]:
    return run_concurrently(lambda act: act(), list(acts), len(acts))


def refusals(done: list[Any]) -> list[str]:
    return [one for one in done if isinstance(one, str)]


def records_are_sound() -> bool:
    return audit_records().findings == []
