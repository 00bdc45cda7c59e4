"""One run over every person, form, endpoint, query and address."""

from datetime import date

from django.test import Client
from hypothesis import strategies as st

from lessons.models import Lesson
from tests.cast import Cast
from tests.fuzz import bodies
from tests.fuzz.attack import Account, Attacker
from tests.fuzz.pages import Form
from tests.fuzz.school import PEOPLE, Address, more_states, patterns, query_names, shown_forms
from tests.grading.test_access import LADDER


def pages_of(address: Address) -> dict[str, str]:
    """The address of each page by the name of its view; asked for once, since some make what they need."""
    return {name: address(name) for name in sorted(LADDER)}


def attack_everything(
    cast: Cast, address: Address, *, examples: int, by_rule: bool, thorough: bool, people: tuple[str | None, ...] = PEOPLE
) -> Account:
    account = Account()
    more = more_states(cast)
    where = pages_of(address)
    read = [where[name] for name, (method, _) in LADDER.items() if method == "GET"] + more
    seen: set[object] = set()
    for who in people:
        client = Client()
        if who:
            client.force_login(getattr(cast, who))
        attacker = Attacker(who or "nobody", client, account, quick=not thorough)
        if thorough:
            attacker.looked_at = [page for page in read if client.get(page).status_code == 200 and ".pdf" not in page]
        forms = shown_forms(client, read)
        for form in forms:
            if thorough or _new(form, seen):
                attacker.attack(form.page, bodies.filled(form, cast.today), examples, by_rule)
        _endpoints(attacker, cast, where, {form.action for form in forms}, read, examples, by_rule, thorough)
    return account


def _new(form: Form, seen: set[object]) -> bool:
    """In a short run each form is tried by the first who is shown it."""
    key = (form.action, tuple(field.name for field in form.fields), form.keys)
    known = key in seen
    seen.add(key)
    return not known


def _endpoints(
    attacker: Attacker, cast: Cast, where: dict[str, str], shown: set[str], read: list[str], examples: int, by_rule: bool,
    thorough: bool,
) -> None:  # fmt: skip
    unseen = [where[name] for name, (method, _) in LADDER.items() if method == "POST" and name != "grading:batch"]
    for few, inputs in (
        (3, st.one_of([bodies.guessed(path) for path in unseen if path not in shown])),
        (5, st.one_of([bodies.asked(page, query_names(), cast.today) for page in read])),
        (3, st.one_of([bodies.astray(pattern) for pattern in patterns()])),
    ):
        attacker.attack("/marks/", inputs, examples * few, by_rule)
    who = getattr(cast, attacker.who, None)
    begin = {"enrolment": str(cast.enrolment.uid), "unit": cast.units[8].pk, "on": str(cast.today)}
    begin["aircraft"] = cast.aircraft.pk
    sent = bodies.batches(where["grading:batch"], who.pk if who else 0, begin, batch_fields())
    attacker.attack(where["grading:lesson"], sent, examples * (10 if attacker.who == "bert" else 1), by_rule)


def batch_fields() -> list[str]:
    from grading.actions.details import READERS  # noqa: PLC0415

    parts = ["level", "help", "fault.bounced", "criterion.held", "measure.landing-line.speed"]
    return [
        "circuit.1.ending", "circuit.1.closed", "circuit.61.ending", "circuit.2.approach.level",
        *(f"circuit.1.landing.{part}" for part in parts), "manoeuvre.stalls.level", "grade.landing", "grade.nothing",
        *(f"lesson.{name}" for name in READERS),
    ]  # fmt: skip
