"""Check the papers and the knowledge test that must be on record before a first solo."""

from collections.abc import Sequence
from datetime import date

from grading.rules.readiness.dates import age_on, medical_expiry
from grading.rules.readiness.facts import KnowledgeTestFact, PaperFact
from grading.rules.readiness.history import History
from grading.rules.readiness.standard import RequirementSpec
from grading.rules.readiness.verdict import CheckResult, Evidence, State
from grading.rules.said import Said, said


def check_paper(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that a paper of a kind is on record and has not run out."""
    papers = [paper for kind in spec.words("kinds") for paper in history.papers(kind)]
    # Not known and not open: the student may hold what nobody has recorded.
    if not papers:
        return CheckResult(State.NOT_KNOWN, said("no_document"), to_meet=said("add_document"))
    valid = [paper for paper in papers if paper.expires is None or paper.expires >= history.on]
    # An older document that is still valid counts, even where a newer one has expired.
    paper = (valid or papers)[-1]
    evidence = (Evidence(said("issued", on=paper.issued)),)
    if not valid and paper.expires is not None:
        far, would = said("expired", ended=paper.expires), said("renew_document")
        return CheckResult(State.LAPSED, far, evidence=evidence, to_meet=would, until=paper.expires)
    return CheckResult(State.MET, said("on_record"), evidence=evidence, since=_known_since(paper), until=paper.expires)


def check_age(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that the student is old enough on the day itself."""
    years, born = spec.number("years"), history.facts.student.born
    if born is None:
        return CheckResult(State.NOT_KNOWN, said("no_birth"), to_meet=said("record_birth"))
    reached = _birthday(born, years)
    evidence = (Evidence(said("born", on=born)),)
    if age_on(born, history.on) >= years:
        return CheckResult(State.MET, said("age_since", years=years, reached=reached), evidence=evidence, since=reached)
    far, would = said("age_from", years=years, reached=reached), said("wait_until", reached=reached)
    return CheckResult(State.OPEN, far, evidence=evidence, to_meet=would)


def check_medical(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that the most recent medical of a class that counts is in force on the day (14 CFR 61.23(d)).

    With `as_written` its end is the date written on it alone, where the months of another rule set say nothing.
    """
    as_written = spec.values.get("as_written") == 1
    papers = [paper for paper in history.papers("medical") if paper.medical_class in _classes(history, spec)]
    if not papers:
        return CheckResult(State.NOT_KNOWN, said("no_medical"), to_meet=_or_judge("record_medical", spec))
    paper = most_recent_medical(papers)
    # Without the birth date medical_last_day() cannot apply the months of 14 CFR 61.23(d).
    born = None if as_written else history.facts.student.born
    if as_written and paper.expires is None:
        return CheckResult(State.NOT_KNOWN, said("no_expiry_date"), to_meet=said("record_expiry_date"))
    if born is None and paper.expires is None:
        return CheckResult(State.NOT_KNOWN, said("expiry_needs_birth"), to_meet=said("record_birth"))
    ends = medical_last_day(paper, born)
    evidence = (Evidence(said("examined", on=paper.issued, medical_class=paper.medical_class)),)
    if ends < history.on:
        return CheckResult(
            State.LAPSED,
            said("expired", ended=ends),
            evidence=evidence,
            to_meet=_or_judge("new_medical", spec),
            until=ends,
        )
    far = said("until", ends=ends)
    return CheckResult(State.MET, far, evidence=evidence, since=_known_since(paper), until=ends)


def most_recent_medical(papers: Sequence[PaperFact]) -> PaperFact:
    """Return the medical that decides: the one examined last and, of one day, the one recorded last."""
    # Not the one that ends last: a newer examination may have found what the older one had not.
    return max(enumerate(papers), key=lambda row: (row[1].issued, row[1].recorded or row[1].issued, row[0]))[1]


def check_knowledge_test(history: History, spec: RequirementSpec) -> CheckResult:
    """Check that all topics were tested for this type and every wrong answer of every test was reviewed."""
    code = history.facts.aircraft_type.code
    tests = [t for t in history.facts.knowledge_tests if t.on <= history.on and t.aircraft_type == code]
    if not tests:
        return CheckResult(State.OPEN, said("test_not_taken"), to_meet=said("take_test"))
    topics = spec.words("topics")
    missing = [topic for topic in topics if not any(topic in test.topics for test in tests)]
    # Of every test and not only of those that cover the topics: 14 CFR 61.87(b)(2)(ii) excepts none, the latest least.
    unreviewed = sum(test.wrong for test in tests if not _is_reviewed(test, history.on))
    evidence = tuple(Evidence(said("test_taken", on=t.on, wrong=t.wrong, by=t.by)) for t in tests)
    done = len(topics) - len(missing)
    if unreviewed:
        far, would = said("answers_not_reviewed", count=unreviewed), said("review_answers")
        return CheckResult(State.OPEN, far, done, len(topics), evidence, would)
    if missing:
        far, would = said("topics_tested", done=done, needed=len(topics)), said("test_topics", topics=tuple(missing))
        return CheckResult(State.OPEN, far, done, len(topics), evidence, would)
    since = max(test.reviewed or test.on for test in tests)
    return CheckResult(State.MET, said("test_reviewed"), done, len(topics), evidence, since=since)


def _is_reviewed(test: KnowledgeTestFact, on: date) -> bool:
    # A review dated before its test reviewed nothing of it.
    return test.wrong == 0 or (test.reviewed is not None and test.on <= test.reviewed <= on)


def _classes(history: History, spec: RequirementSpec) -> tuple[str, ...]:
    """Return the classes that count; a LAPL medical only for a student who trains for a LAPL (MED.A.030)."""
    if history.facts.student.certificate == "lapl":
        return spec.words("classes")
    return tuple(name for name in spec.words("classes") if name != "lapl")


def _or_judge(key: str, spec: RequirementSpec) -> Said:
    # 14 CFR 61.23(c) knows other ways, whose conditions no record here holds: a person judges them.
    return said(key if "as_written" in spec.values else f"{key}_or_judge")


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
