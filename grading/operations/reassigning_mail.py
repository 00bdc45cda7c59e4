"""Send e-mails about students who were reassigned: one to each person, however many students it is about."""

from collections import defaultdict
from collections.abc import Sequence

from lessons.models import Enrolment
from school.accounts import emails
from school.formats import write_list
from school.models import Person

SUBJECT = "Assigned instructor"
MAX_NAMED = 5  # of those whom no e-mail reached; the rest are counted
TO_STUDENT = (
    "{new} is your assigned instructor from now on, in place of {old}. No lesson, endorsement or release that was"
    " signed has changed."
)
TO_OLD = "These students are no longer assigned to you. {new} is their instructor from now on:\n{names}"
TO_OLD_MORE = "Lessons that you have not signed yet are still yours to sign."
TO_NEW = "These students are assigned to you from now on:\n{names}"
TO_NEW_MORE = "Look at the readiness of each before you fly together."


def tell_of_reassigning(moved: Sequence[tuple[Enrolment, Person]], by: Person) -> str:
    """E-mail students, earlier and new instructors; `moved`: each enrolment as it is now, and who taught it before.

    Return who has to be told by word of mouth, as a sentence, or nothing. `by` did it and is not told.
    """
    lost: dict[Person, list[Enrolment]] = defaultdict(list)
    won: dict[Person, list[Enrolment]] = defaultdict(list)
    texts: dict[Person, list[str]] = defaultdict(list)
    for row, old in moved:
        lost[old].append(row)
        won[row.instructor].append(row)
        texts[row.student].append(TO_STUDENT.format(new=row.instructor, old=old))
    for old, rows in lost.items():
        new = write_list(sorted({row.instructor.name for row in rows}))
        texts[old] += [TO_OLD.format(new=new, names=_names(rows)), TO_OLD_MORE]
    for person, rows in won.items():
        texts[person] += [TO_NEW.format(names=_names(rows)), TO_NEW_MORE]
    texts.pop(by, None)
    to_send = [(person, SUBJECT, "\n\n".join(lines)) for person, lines in texts.items() if person.is_active]
    untold = [person.name for person in emails.send_many(to_send)]
    if not untold:
        return ""
    more = f" and {len(untold) - MAX_NAMED} more" if len(untold) > MAX_NAMED else ""
    named = f"{', '.join(untold[:MAX_NAMED])}{more}" if more else write_list(untold)
    return f"No e-mail reached {named}: tell them yourself."


def _names(rows: Sequence[Enrolment]) -> str:
    return "\n".join(f"- {row.student.name}, {row.student.reference}" for row in rows)
