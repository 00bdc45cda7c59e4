"""Check the papers and the knowledge test that must be on record before a first solo."""

from datetime import date

from grading.rules.readiness.dates import age_on, long_date, medical_expiry
from grading.rules.readiness.facts import PaperFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, Evidence, State


def check_paper(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a paper of a kind is on record and has not run out."""
    papers = [paper for kind in spec.words("kinds") for paper in history.papers(kind)]
    # Not known and not open: the student may hold what nobody has recorded.
    if not papers:
        return CheckResult(State.NOT_KNOWN, "nothing on record", would_meet="Put the document on record.")
    valid = [paper for paper in papers if paper.expires is None or paper.expires >= history.on]
    # An older document that is still valid counts, even where a newer one has expired.
    paper = (valid or papers)[-1]
    evidence = (Evidence(f"Issued {long_date(paper.issued)}"),)
    if not valid and paper.expires is not None:
        how_far = f"ran out on {long_date(paper.expires)}"
        would = "Renew it and put it on record."
        return CheckResult(State.LAPSED, how_far, evidence=evidence, would_meet=would, until=paper.expires)
    return CheckResult(State.MET, "on record", evidence=evidence, since=_known_since(paper), until=paper.expires)


def check_age(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that the student is old enough on the day itself."""
    years, born = spec.number("years"), history.facts.student.born
    if born is None:
        return CheckResult(State.NOT_KNOWN, "no date of birth on record", would_meet="Record the date of birth.")
    reached = _birthday(born, years)
    evidence = (Evidence(f"Born {long_date(born)}"),)
    if age_on(born, history.on) >= years:
        return CheckResult(State.MET, f"{years} since {long_date(reached)}", evidence=evidence, since=reached)
    return CheckResult(
        State.OPEN,
        f"{years} on {long_date(reached)}",
        evidence=evidence,
        would_meet=f"Wait until {long_date(reached)}.",
    )


def check_medical(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a medical of a class that counts is in force on the day.

    With `as_written` its end is the date written on it alone, where the months of another rule set say nothing.
    """
    classes, as_written = spec.words("classes"), spec.values.get("as_written") == 1
    papers = [paper for paper in history.papers("medical") if paper.medical_class in classes]
    if not papers:
        return CheckResult(State.NOT_KNOWN, "no medical on record", would_meet="Put the medical on record.")
    # Without the birth date medical_last_day() cannot apply the months of 14 CFR 61.23(d).
    born = None if as_written else history.facts.student.born
    if as_written and all(paper.expires is None for paper in papers):
        would = "Record the date until which it is valid."
        return CheckResult(State.NOT_KNOWN, "no date of its end on record", would_meet=would)
    if born is None and all(paper.expires is None for paper in papers):
        return CheckResult(
            State.NOT_KNOWN,
            "its end depends on the age, and no date of birth is on record",
            would_meet="Record the date of birth.",
        )
    ends, paper = max(((medical_last_day(paper, born), paper) for paper in papers), key=lambda pair: pair[0])
    evidence = (Evidence(f"Examined {long_date(paper.issued)}, class {paper.medical_class}"),)
    if ends < history.on:
        return CheckResult(
            State.LAPSED,
            f"ran out on {long_date(ends)}",
            evidence=evidence,
            would_meet="No flight alone until a new medical is on record.",
            until=ends,
        )
    return CheckResult(State.MET, f"until {long_date(ends)}", evidence=evidence, since=_known_since(paper), until=ends)


def check_knowledge_test(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that all topics were tested for this type and every wrong answer was reviewed."""
    code = history.facts.aircraft_type.code
    tests = [t for t in history.facts.knowledge_tests if t.on <= history.on and t.aircraft_type == code]
    if not tests:
        return CheckResult(
            State.OPEN, "not taken for this type", would_meet="Take the pre-solo knowledge test for this type."
        )
    # A topic counts only once every wrong answer of its test was reviewed (14 CFR 61.87(b)(2)(ii)).
    reviewed = [t for t in tests if t.wrong == 0 or (t.reviewed is not None and t.reviewed <= history.on)]
    topics = spec.words("topics")
    missing = [topic for topic in topics if not any(topic in test.topics for test in reviewed)]
    evidence = tuple(Evidence(f"Taken {long_date(t.on)}, {t.wrong} wrong, given by {t.by}") for t in tests)
    done = len(topics) - len(missing)
    if missing:
        unreviewed = sum(test.wrong for test in tests if test not in reviewed)
        how_far = f"{unreviewed} wrong answers not reviewed" if unreviewed else f"{done} of {len(topics)} topics"
        would = (
            "Review every wrong answer with the student."
            if unreviewed
            else "Test: " + ", ".join(topic.replace("_", " ") for topic in missing)
        )
        return CheckResult(State.OPEN, how_far, done, len(topics), evidence, would)
    since = max(test.reviewed or test.on for test in reviewed)
    return CheckResult(State.MET, "taken and reviewed", done, len(topics), evidence, since=since)


def medical_last_day(paper: PaperFact, born: date | None) -> date:
    """Return the earlier of what is written on the medical and what the rule allows."""
    ends = [paper.expires] if paper.expires else []
    # Classes 1 to 3 only: the European periods in months were not verified, so none are computed.
    if born is not None and paper.medical_class in ("1", "2", "3"):
        ends.append(medical_expiry(born, paper.issued))
    # The cautious reading where the date on it and the rule differ; where nothing says when it ends, it ends at once.
    return min(ends) if ends else paper.issued


def _known_since(paper: PaperFact) -> date:
    # A verdict before its entry did not know the document.
    return max(paper.issued, paper.recorded or paper.issued)


def _birthday(born: date, years: int) -> date:
    try:
        return born.replace(year=born.year + years)
    except ValueError:  # born on 29 February, reached in a common year
        return date(born.year + years, 3, 1)
