"""Save what somebody narrowed the board to under a name of their own, on their account."""

from datetime import datetime

from django.db import transaction

from grading.reading.board_query import BoardRequest
from lessons.participants import lock_people
from school import journal
from school.errors import Refusal
from school.models import Person
from school.permissions import can_see_all_students

MOST_VIEWS = 8  # what one takes in at a glance
MAX_NAME_LENGTH = 30


@transaction.atomic
def save_board_view(*, name: str, asked: BoardRequest, by: Person, at: datetime) -> None:
    """Save a view; one of the same name is replaced.

    Without what was searched for: it names students, and a view would still name one whose record was erased.
    """
    if not can_see_all_students(by):
        raise Refusal("The list of students is for staff.")
    name = " ".join(name.split())
    if not name or len(name) > MAX_NAME_LENGTH:
        raise Refusal(f"Give the view a name of at most {MAX_NAME_LENGTH} characters.")
    saved = {field: value for field, value in asked._asdict().items() if value and field != "q"}
    if not saved:
        raise Refusal("Choose a filter, an instructor, a unit, an aircraft or an order first: this is the whole board.")
    [person] = lock_people(by)
    views = [row for row in person.board_views if row["name"] != name]
    if len(views) >= MOST_VIEWS:
        raise Refusal(f"You have {MOST_VIEWS} views already: remove one first.")
    person.board_views = [*views, {"name": name, "asked": saved}]
    person.save(update_fields=["board_views"])
    journal.record(by=by, at=at, what="view of the board saved", subject=person, after={"name": name}, derived=False)


@transaction.atomic
def remove_board_view(*, name: str, by: Person, at: datetime) -> None:
    """Remove one of one's own views; nothing else changes."""
    [person] = lock_people(by)
    views = [row for row in person.board_views if row["name"] != name]
    if len(views) == len(person.board_views):
        raise Refusal("This view is no longer there.")
    person.board_views = views
    person.save(update_fields=["board_views"])
    journal.record(by=by, at=at, what="view of the board removed", subject=person, before={"name": name}, derived=False)
