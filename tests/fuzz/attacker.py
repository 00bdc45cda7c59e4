"""Sends one input after the other, each undone again, and holds every answer against what was promised.

Never a failure; a refusal changes nothing and keeps what was typed; a write has its journal entry, breaks no page
that shows it and no constraint that is looked at late.
"""

import re
import sys
import traceback
from collections import Counter
from dataclasses import dataclass, field

from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as hypothesis_settings
from hypothesis.strategies import SearchStrategy

from tests.fuzz.bodies import Sent
from tests.fuzz.pages import field_values

# Sessions hold what a page says once; verdicts are derived when a page is looked at; guesses are counted in a cache.
IGNORED_TABLES = {
    "django_session",
    "grading_storedverdict",
    "django_migrations",
    "school_cache",
    "usersessions_usersession",
}
# Accounts of their own, each row with its moment and its person: taps, events of a tablet, drafts.
TABLES_WITHOUT_JOURNAL = {"grading_tap", "grading_deviceevent", "lessons_gatedraft", "lessons_syllabusdraft"}
JOURNAL = "school_journalentry"

State = dict[str, str]


# A refused signature writes down that its password was wrong.
EXPECTED_ENTRIES = {
    "school_journalentry": " WHERE what NOT IN ('wrong password at signing', 'wrong password as second person')"
}


def database_state() -> State:
    """Each table with a digest of its rows."""
    tables = [name for name in connection.introspection.table_names() if name not in IGNORED_TABLES]
    parts = [
        f"SELECT '{name}', count(*) || ' ' || coalesce(md5(string_agg(md5(t::text), '' ORDER BY md5(t::text))), '')"
        f' FROM "{name}" t{EXPECTED_ENTRIES.get(name, "")}'
        for name in tables
    ]
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(parts))
        return dict(cursor.fetchall())


def changed_tables(before: State, after: State) -> set[str]:
    return {name for name in before if before[name] != after[name]}


@dataclass
class FuzzReport:
    """How many inputs were tried, by person and answer, and each promise that was not kept, once, with an input."""

    tried: Counter[str] = field(default_factory=Counter)
    answers: Counter[str] = field(default_factory=Counter)
    broken: dict[str, str] = field(default_factory=dict)

    def report(self) -> str:
        lines = [f"{sum(self.tried.values())} inputs: " + ", ".join(f"{who} {n}" for who, n in self.tried.items())]
        lines.append("answers: " + ", ".join(f"{status} {n}" for status, n in sorted(self.answers.items())))
        return "\n".join([*lines, *(f"{what}\n    {sent}" for what, sent in self.broken.items())])


@dataclass
class Attacker:
    """One of the cast at a browser.

    `looked_at`: pages that must still open after an accepted write. `quick`: a page that is only read is not held
    to have written nothing.
    """

    who: str
    client: Client
    account: FuzzReport
    looked_at: list[str] = field(default_factory=list)
    quick: bool = False

    def attack(self, page: str, inputs: SearchStrategy[Sent], examples: int, by_rule: bool) -> None:
        before = database_state()
        cookies = self.client.cookies.copy()

        @hypothesis_settings(
            max_examples=examples, derandomize=by_rule, database=None, deadline=None, phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @given(inputs)
        def one(sent: Sent) -> None:
            with transaction.atomic():
                self._one(page, sent, before)
                transaction.set_rollback(True)
            self.client.cookies = cookies.copy()

        one()

    def _one(self, page: str, sent: Sent, before: State) -> None:
        self.account.tried[self.who] += 1
        try:
            reply = self.client.generic(sent.method, sent.path, sent.body, content_type=sent.kind)
            self.account.answers[str(reply.status_code)] += 1
            content = reply.getvalue()
        except Exception as error:  # every failure is reported, none ends the run
            self.account.answers["failed"] += 1
            self._broken(f"fails: {_error_place(error)}", sent, error)
            return
        self._hold(page, sent, before, reply.status_code, content.decode(errors="replace"))
        if reply.status_code == 302:
            self._open([reply.headers["Location"]], sent)

    def _hold(self, page: str, sent: Sent, before: State, status: int, text: str) -> None:
        written = set() if sent.method == "GET" and self.quick else changed_tables(before, database_state())
        if status >= 500:
            self._broken(f"{status} at {_address_pattern(sent.path)}", sent)
        if (status >= 400 or sent.method == "GET") and written:
            self._broken(f"{status} and yet written at {_address_pattern(sent.path)}: {sorted(written)}", sent)
        elif (
            written
            and JOURNAL not in written
            and not written <= TABLES_WITHOUT_JOURNAL
            and not TABLES_WITHOUT_JOURNAL & written
        ):
            self._broken(f"written without the journal at {_address_pattern(sent.path)}: {sorted(written)}", sent)
        if status == 422:
            for name in _lost_fields(sent, text):
                self._broken(f"refused and what was typed is gone at {_address_pattern(sent.path)}: {name}", sent)
        if written and status < 400:
            try:
                connection.check_constraints()
            except Exception as error:
                self._broken(f"breaks a constraint: {_error_place(error)}", sent, error)
                return
            self._open([page, *self.looked_at], sent)

    def _open(self, pages: list[str], sent: Sent) -> None:
        for page in pages:
            try:
                reply = self.client.get(page)
                b"".join(reply) if reply.streaming else reply.content
            except Exception as error:
                self._broken(f"after a write {_address_pattern(page)} fails: {_error_place(error)}", sent, error)
                return

    def _broken(self, what: str, sent: Sent, error: BaseException | None = None) -> None:
        if what not in self.account.broken and not self.quick:
            sys.stdout.write(f"  {what}\n")  # a long run tells what it finds as it finds it
        said = f"{str(error)[:200]}\n    " if error else ""
        self.account.broken.setdefault(what, f"{said}{self.who}: {sent}")


def _lost_fields(sent: Sent, text: str) -> list[str]:
    """Fields whose text does not stand in the answer; white space apart, and what no page can hold."""
    shown = {name: {_plain(value) for value in values} for name, values in field_values(text).items()}
    typed = [(name, value.decode(errors="replace")) for name, value in sent.typed]
    return [name for name, value in typed if _plain(value) and _plain(value) not in shown.get(name, set())]


def _plain(text: str) -> str:
    return re.sub(r"[\s\x00-\x1f\x7f-\x9f]+", "", text)


def _address_pattern(path: str) -> str:
    """An address without its keys, so that one fault is told once."""
    return re.sub(r"[0-9a-f-]{36}|\d+", "…", path.split("?")[0])[:80]


def _error_place(error: BaseException) -> str:
    """The kind of error and the last line of the project under it."""
    own = [step for step in traceback.extract_tb(error.__traceback__) if str(settings.BASE_DIR) in step.filename]
    own = [step for step in own if "/tests/" not in step.filename] or own
    place = f"{own[-1].filename.removeprefix(str(settings.BASE_DIR))}:{own[-1].lineno}" if own else "?"
    return f"{type(error).__name__} at {place}"
