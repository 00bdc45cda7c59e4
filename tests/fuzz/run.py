"""One run over every person, form, endpoint, query and address."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from django.test import Client
from hypothesis import strategies as st

from grading.actions.lesson_details import DETAIL_PARSERS
from tests.access_matrix import ACCESS_MATRIX
from tests.cast import Cast
from tests.fuzz import bodies
from tests.fuzz.attacker import Attacker, FuzzReport
from tests.fuzz.bodies import Sent
from tests.fuzz.pages import Field, Form, forms_of
from tests.fuzz.school import PEOPLE, add_further_pages, address_patterns, forms_on_pages, page_addresses, query_names

Inputs = st.SearchStrategy[Sent]
# In a short run: who sees the most forms, and on which pages.
SEEN_BY = {
    "amelia": ["readiness", "edit_gates", "standard", "school_settings", "training_credit", "import_syllabus"],
    "bert": ["lesson", "begin_lesson", "written_test", "solo_endorsement"],
    "dora": ["own_progress", "earlier_training"],
    "frida": ["student_record", "enrol_student", "imports", "request_print_run", "end_of_training"],
}


class Ground:
    """The school that is attacked: each page by the name of its view, asked for once, as some make what they need."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.where = page_addresses(cast)
        more = add_further_pages(cast)
        self.read = [*self.taking("GET").values(), *more]

    def taking(self, method: str) -> dict[str, str]:
        """The pages that take a method, by name."""
        return {
            name: self.where[name] for name, row in ACCESS_MATRIX.items() if method in {way for way, _ in row.answers}
        }

    def attacker(self, who: str | None, account: FuzzReport, quick: bool) -> Attacker:
        client = Client()
        if who:
            client.force_login(getattr(self.cast, who))
        return Attacker(who or "nobody", client, account, quick=quick)

    def pages_called(self, names: list[str]) -> list[str]:
        return [page for name, page in self.where.items() if name.split(":")[-1] in names]

    def endpoints(self, shown: set[str]) -> list[Inputs]:
        """Endpoints whose form is not shown, queries of pages, addresses that lead nowhere."""
        hidden = [
            path for name, path in self.taking("POST").items() if path not in shown and name != "grading:tablet_events"
        ]
        return [
            st.one_of([bodies.guessed(path) for path in hidden]),
            st.one_of([bodies.asked(page, query_names(), self.cast.today) for page in self.read]),
            st.one_of([bodies.astray(pattern) for pattern in address_patterns()]),
        ]

    def batches(self, who: str | None) -> Inputs:
        begin: dict[str, Any] = {"enrolment": str(self.cast.enrolment.uid), "unit": self.cast.units[8].pk}
        begin |= {"on": str(self.cast.today), "aircraft": self.cast.aircraft.pk}
        person = getattr(self.cast, who).pk if who else 0
        return bodies.batches(self.where["grading:tablet_events"], person, begin, batch_fields())


def attack_everything(cast: Cast, *, who: str | None, examples: int) -> FuzzReport:
    """Each form this person is shown with so many inputs, the rest with some times as many."""
    account, ground = FuzzReport(), Ground(cast)
    attacker = ground.attacker(who, account, quick=False)
    pages = [page for page in ground.read if ".pdf" not in page]
    attacker.looked_at = [page for page in pages if attacker.client.get(page).status_code == 200]
    forms = forms_on_pages(attacker.client, ground.read)
    for form in forms:
        attacker.attack(form.page, bodies.filled(form, cast.today), examples, False)
    for inputs in ground.endpoints({form.action for form in forms}):
        attacker.attack("/marks/", inputs, examples * 5, False)
    attacker.attack(ground.where["grading:lesson"], ground.batches(who), examples * (10 if who == "bert" else 1), False)
    return account


def attack_a_few(cast: Cast, *, inputs: int) -> FuzzReport:
    """So many inputs over the main forms of each, the same ones each time."""
    account, ground = FuzzReport(), Ground(cast)
    for who in PEOPLE:
        attacker, shown = ground.attacker(who, account, quick=True), set()
        if who in SEEN_BY:
            forms = forms_on_pages(attacker.client, ground.pages_called(SEEN_BY[who]))
            shown = {form.action for form in forms}
            filled = st.one_of([bodies.filled(form, cast.today) for form in forms])
            attacker.attack("/marks/", filled, inputs, True)
        attacker.attack("/marks/", st.one_of(ground.endpoints(shown)), inputs // 2, True)
    attacker = ground.attacker("bert", account, quick=True)
    attacker.attack(ground.where["grading:lesson"], ground.batches("bert"), inputs, True)
    return account


def attack_the_opening(well: Mapping[str, str], today: date, *, inputs: int, quick: bool) -> FuzzReport:
    """The one form that stands before there is a school, filled in as `well` but for what nobody expects."""
    account, client, page = FuzzReport(), Client(), "/set-up/"
    form = _whole_opening(client, page, well)
    fields = [
        replace(field, options=(well[field.name],)) if field.name in well and not field.options else field
        for field in form.fields
    ]
    attacker = Attacker("nobody", client, account, quick=quick)
    attacker.attack(page, bodies.filled(replace(form, fields=tuple(fields)), today), inputs, quick)
    return account


def _whole_opening(client: Client, page: str, well: Mapping[str, str]) -> Form:
    """The fields of all its steps in one form, which opens the school when it is sent without a step."""
    html = client.get(page).text
    fields: dict[str, Field] = {}
    for step in range(5):
        form = next(form for form in forms_of(html, page) if form.action == page)
        fields |= {field.name: field for field in form.fields if field.type != "hidden"}
        if step < 4:
            html = client.post(page, {**well, "step": step}).text
    return replace(form, fields=tuple(fields.values()), keys=())


def batch_fields() -> list[str]:
    parts = ["level", "help", "fault.bounced", "criterion.held", "measure.final.speed"]
    return [
        "circuit.1.ending", "circuit.1.closed", "circuit.61.ending", "circuit.2.approach.level",
        *(f"circuit.1.landing.{part}" for part in parts), "manoeuvre.stalls.level", "grade.landing", "grade.nothing",
        *(f"lesson.{name}" for name in DETAIL_PARSERS),
    ]  # fmt: skip
