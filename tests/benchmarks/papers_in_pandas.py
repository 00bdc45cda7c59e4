"""What must be on record before a first solo, for a whole school in pandas: papers, age, test, endorsements."""

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from grading.rules.readiness.standard import RequirementSpec
from lessons.rules.scale import UnitKind
from tests.benchmarks.frames import School

# 14 CFR 61.23(d): months after the month of the examination, below the age of 40 on its day and from it on.
AGE_OF_SHORTER_MEDICAL, MONTHS_BELOW, MONTHS_FROM = 40, 60, 24
HIGH_PERFORMANCE_HP = 200  # 14 CFR 61.31(f)(1): more than that


@dataclass(frozen=True)
class Answer:
    """By enrolment; whoever is missing has not met it, and counts as none.

    done None: nothing is counted. asked None: of everyone.
    """

    met: "pd.Series[bool]"
    done: "pd.Series[int] | None" = None
    asked: "pd.Series[bool] | None" = None


def paper(school: School, spec: RequirementSpec) -> Answer:
    """One of these kinds that has not run out."""
    rows = school.papers[school.papers["kind"].isin(spec.words("kinds"))]
    valid = rows["expires"].isna() | (rows["expires"] >= pd.Timestamp(school.on))
    return Answer(_of_enrolments(school, valid.groupby(rows["person"]).any()))


def age(school: School, spec: RequirementSpec) -> Answer:
    students = school.enrolments
    years = _whole_years(students["born"], pd.Series(pd.Timestamp(school.on), students.index))
    return Answer(pd.Series((years >= spec.number("years")).to_numpy(), students["enrolment"]))


def medical(school: School, spec: RequirementSpec) -> Answer:
    """The one examined last, of one day the one recorded last: in force by its date and by the rule."""
    students = school.enrolments[["enrolment", "person", "born", "for_lapl"]]
    rows = students.merge(school.papers[school.papers["kind"] == "medical"], on="person")
    lapl = (rows["class"] != "lapl") | (rows["for_lapl"] == "t")
    rows = rows[rows["class"].isin(spec.words("classes")) & lapl]
    rows = rows.sort_values(["enrolment", "issued", "recorded", "paper"]).drop_duplicates("enrolment", keep="last")
    ends = rows["expires"]
    if spec.values.get("as_written") != 1:
        months = _whole_years(rows["born"], rows["issued"]).ge(AGE_OF_SHORTER_MEDICAL)
        months = months.map({True: MONTHS_FROM, False: MONTHS_BELOW})
        by_rule = (rows["issued"].dt.to_period("M") + months).dt.to_timestamp("D") + pd.offsets.MonthEnd(0)
        by_rule = by_rule.where(rows["born"].notna() & rows["class"].isin(["1", "2", "3"]))
        # Where neither says when it ends but the age is known, it ended at once.
        ends = pd.concat([ends, by_rule], axis=1).min(axis=1).fillna(rows["issued"].where(rows["born"].notna()))
    return Answer(pd.Series((ends >= pd.Timestamp(school.on)).to_numpy(), rows["enrolment"]))


def knowledge_test(school: School, spec: RequirementSpec) -> Answer:
    """Every topic in some test for the own type, every wrong answer of every one of them reviewed after it."""
    tests = school.tests.merge(school.enrolments[["enrolment", "type"]], on=["enrolment", "type"])
    by_student = tests["enrolment"]
    reviewed = (tests["taken_on"] <= tests["reviewed_on"]) & (tests["reviewed_on"] <= pd.Timestamp(school.on))
    reviewed = (reviewed | (tests["wrong"] == 0)).groupby(by_student).all()
    topics = tests.assign(topic=tests["topics"].str.split()).explode("topic")
    topics = topics.loc[topics["topic"].isin(spec.words("topics")), ["enrolment", "topic"]].drop_duplicates()
    done = topics.groupby("enrolment").size().reindex(reviewed.index, fill_value=0)
    return Answer(reviewed & (done == len(spec.words("topics"))), done)


def tailwheel_endorsement(school: School, spec: RequirementSpec) -> Answer:
    return _endorsement(school, "tailwheel", school.enrolments["tailwheel"] == "t")


def complex_endorsement(school: School, spec: RequirementSpec) -> Answer:
    features = school.enrolments[["flaps", "retractable", "constant_speed_propeller"]]
    return _endorsement(school, "complex", ~features.isin(["f"]).any(axis=1), features.notna().all(axis=1))


def high_performance_endorsement(school: School, spec: RequirementSpec) -> Answer:
    power = school.enrolments["horsepower"]
    return _endorsement(school, "high_performance", ~(power <= HIGH_PERFORMANCE_HP), power.notna())


def _endorsement(school: School, kind: str, asked: "pd.Series[bool]", known: "pd.Series[bool] | None" = None) -> Answer:
    """Given by the day, after training in the own type or in that of the endorsement. Not known is asked, not met."""
    students = school.enrolments[["enrolment", "type"]]
    given = school.endorsements[school.endorsements["kind"] == kind].reset_index(names="endorsement")
    given = given.merge(students, on="enrolment", suffixes=("", "_own"))
    trained = school.lessons[school.lessons["kind"].isin([UnitKind.DUAL.value, UnitKind.STAGE_CHECK.value])]
    both = given.merge(trained[["enrolment", "type", "on"]], on="enrolment", suffixes=("", "_flown"))
    in_such = (both["type_flown"] == both["type"]) | (both["type_flown"] == both["type_own"])
    good = both.loc[in_such & (both["on"] <= both["given_on"]), "enrolment"]
    met = students["enrolment"].isin(good) & (True if known is None else known)
    return Answer(
        pd.Series(met.to_numpy(), students["enrolment"]), asked=pd.Series(asked.to_numpy(), students["enrolment"])
    )


def _whole_years(since: "pd.Series[pd.Timestamp]", on: "pd.Series[pd.Timestamp]") -> "pd.Series[float]":
    """Birthdays passed; missing where the day of birth is."""
    before = (on.dt.month * 100 + on.dt.day) < (since.dt.month * 100 + since.dt.day)
    return on.dt.year - since.dt.year - before


def _of_enrolments(school: School, by_person: "pd.Series[bool]") -> "pd.Series[bool]":
    students = school.enrolments
    return pd.Series(students["person"].map(by_person).eq(True).to_numpy(), students["enrolment"])


RULES: dict[str, Callable[[School, RequirementSpec], Answer]] = {
    "paper": paper, "age": age, "medical": medical, "knowledge_test": knowledge_test,
    "tailwheel_endorsement": tailwheel_endorsement, "complex_endorsement": complex_endorsement,
    "high_performance_endorsement": high_performance_endorsement,
}  # fmt: skip
