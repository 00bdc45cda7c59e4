"""The rules of readiness for a whole school at once, in pandas: what each asks, without reasons and without evidence.

Written from the words of the requirements and not from the engine's code, so that agreement says something. Each rule
answers, by enrolment, whether it is met and, where the engine counts, how many. What must be on record before any
flight is in papers_in_pandas.py.
"""

from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy.special import stdtr

from grading.rules.readiness.checks.numbers import READING_RESOLUTION
from grading.rules.readiness.standard import RequirementSpec, StandardSpec
from lessons.rules.scale import Ending, Part, UnitKind
from tests.benchmarks import papers_in_pandas
from tests.benchmarks.frames import School
from tests.benchmarks.papers_in_pandas import Answer

NUMBERS_THAT_COUNT = 10
TRAINING_KINDS = [UnitKind.DUAL.value, UnitKind.STAGE_CHECK.value]


def most_of_last(school: School, spec: RequirementSpec) -> Answer:
    """Of the last attempts so many good, the newest among them, the good ones over lessons enough."""
    judged = _judged_at_part(school, spec)
    last = judged.groupby("enrolment").tail(spec.number("last"))
    by_student = last.groupby("enrolment")
    good = by_student["good"].sum()
    over = last[last["good"]].groupby("enrolment")["lesson"].nunique().reindex(good.index, fill_value=0)
    full = by_student.size() == spec.number("last")
    enough = (good >= spec.number("good")) & (over >= spec.number("lessons"))
    return Answer(full & enough & by_student["good"].last(), good)


def in_a_row(school: School, spec: RequirementSpec) -> Answer:
    """After the last attempt that was not good: how many, over how many lessons."""
    judged = _judged_at_part(school, spec)
    misses = (~judged["good"]).groupby(judged["enrolment"])
    row = judged[judged["good"] & (misses.cumsum() == misses.transform("sum"))].groupby("enrolment")
    count, over = row.size(), row["lesson"].nunique()
    return Answer((count >= spec.number("needed")) & (over >= spec.number("lessons")), count)


def _judged_at_part(school: School, spec: RequirementSpec) -> pd.DataFrame:
    at_part = school.attempts["part"] == spec.words("part")[0]
    return school.attempts[at_part & school.attempts["judged"]]


def shown_unaided(school: School, spec: RequirementSpec) -> Answer:
    shown = school.attempts[school.attempts["manoeuvre"] == spec.words("manoeuvres")[0]]
    return Answer(shown.groupby("enrolment")["good"].any())


def last_at_level(school: School, spec: RequirementSpec) -> Answer:
    codes = spec.words("manoeuvres")
    asked = school.attempts[school.attempts["manoeuvre"].isin(codes) & school.attempts["judged"]]
    done = asked.groupby(["enrolment", "manoeuvre"])["good"].last().groupby("enrolment").sum()
    return Answer(done == len(codes), done)


def no_take_over(school: School, spec: RequirementSpec) -> Answer:
    """Circuits that were looked at since the last in which control was taken, of the last so many: all of them."""
    seen = school.attempts.groupby("circuit")[["observed", "taken"]].any()
    circuits = school.circuits.merge(seen, left_on="circuit", right_index=True, how="left")
    circuits["taken"] = circuits["taken"].eq(True) | (circuits["ending"] == Ending.TOOK_CONTROL.value)
    counted = circuits[circuits["taken"] | circuits["observed"].eq(True)]
    newest = counted.sort_values(["enrolment", "on", "number", "place"]).groupby("enrolment")
    newest = newest.tail(spec.number("circuits"))
    taken = newest["taken"].groupby(newest["enrolment"])
    since = (taken.cumsum() == taken.transform("sum")) & ~newest["taken"]
    clean = since.groupby(newest["enrolment"]).sum()
    return Answer(clean == spec.number("circuits"), clean)


def no_open_critical_fault(school: School, spec: RequirementSpec) -> Answer:
    """Each fault as it was last seen, and how many attempts at its manoeuvre were observed since."""
    attempts = school.attempts
    by_manoeuvre = attempts.groupby(["enrolment", "manoeuvre"])["observed"]
    since = attempts.assign(since=by_manoeuvre.transform("sum") - by_manoeuvre.cumsum())
    since = since.drop(columns="critical").reset_index(names="order")
    seen = since.merge(school.faults[["attempt", "fault", "critical"]], on="attempt")
    last = seen.sort_values("order").drop_duplicates(["enrolment", "manoeuvre", "fault"], keep="last")
    still_open = last[last["critical"] & (last["since"] < spec.number("clean"))]
    flown = pd.Index(attempts["enrolment"].unique())
    return Answer(pd.Series(~flown.isin(still_open["enrolment"]), flown))


def second_instructor(school: School, spec: RequirementSpec) -> Answer:
    """A check with another than those who gave most dual lessons, in which nothing judged fell short."""
    dual = school.lessons[school.lessons["kind"] == UnitKind.DUAL.value]
    taught = dual.groupby(["enrolment", "instructor"]).size()
    own = taught[taught == taught.groupby("enrolment").transform("max")].index
    checks = school.lessons[school.lessons["kind"] == UnitKind.STAGE_CHECK.value]
    checks = checks[~pd.MultiIndex.from_frame(checks[["enrolment", "instructor"]]).isin(own)]
    seen = school.attempts[school.attempts["judged"] & school.attempts["lesson"].isin(checks["lesson"])]
    passed = seen.groupby(["enrolment", "lesson"])["good"].all()
    return Answer(passed.groupby("enrolment").any())


def training_received(school: School, spec: RequirementSpec) -> Answer:
    """Each item with all its halves; an older syllabus names the item without halves, which is all of them."""
    taught = _taught(school, spec).merge(school.items, on="manoeuvre")[["enrolment", "item"]].drop_duplicates()
    asked = pd.DataFrame({"item": spec.words("items")})
    asked["whole"] = asked["item"].str.partition(":")[0]
    by_half = taught.merge(asked, on="item")
    by_whole = taught.merge(asked, left_on="item", right_on="whole", suffixes=("_taught", ""))
    given = pd.concat([by_half, by_whole])[["enrolment", "item", "whole"]].drop_duplicates()
    halves = asked.groupby("whole").size()
    given = given.groupby(["enrolment", "whole"]).size()
    done = (given == given.index.get_level_values("whole").map(halves)).groupby("enrolment").sum()
    return Answer(done == len(halves), done)


def manoeuvres_taught(school: School, spec: RequirementSpec) -> Answer:
    taught = _taught(school, spec)
    done = taught[taught["manoeuvre"].isin(spec.words("manoeuvres"))].groupby("enrolment").size()
    return Answer(done == len(spec.words("manoeuvres")), done)


def _taught(school: School, spec: RequirementSpec) -> pd.DataFrame:
    """What was observed in flights with an instructor, in the own type or one that this requirement calls similar."""
    lessons = school.lessons.merge(school.enrolments[["enrolment", "type"]], on="enrolment", suffixes=("", "_own"))
    counts = (lessons["type"] == lessons["type_own"]) | lessons["type"].isin(spec.words("similar_types"))
    lessons = lessons[counts & lessons["kind"].isin(TRAINING_KINDS)]
    seen = school.attempts[school.attempts["observed"] & school.attempts["lesson"].isin(lessons["lesson"])]
    return seen[["enrolment", "manoeuvre"]].drop_duplicates()


def numbers_inside(school: School, spec: RequirementSpec) -> Answer:
    """At each gate so many of the last numbers inside, where there are so many."""
    last = numbers_flown(school, spec).groupby(["enrolment", "gate"]).tail(spec.number("last"))
    gates = last.groupby(["enrolment", "gate"])["inside"]
    met = (gates.size() == spec.number("last")) & (gates.sum() >= spec.number("good"))
    done = met.groupby("enrolment").sum()
    return Answer(done == len(spec.words("gates")), done)


def numbers_consistent(school: School, spec: RequirementSpec) -> Answer:
    """At each gate, with numbers enough, the chance that the next lies inside, by the t distribution."""
    noted = numbers_flown(school, spec)
    gates = noted.groupby(["enrolment", "gate"])
    last = gates.tail(NUMBERS_THAT_COUNT).groupby(["enrolment", "gate"])
    found = last.agg(
        count=("amount", "size"), mean=("amount", "mean"), spread=("amount", "std"), over=("over", "last"),
        under=("under", "last"), quantity=("quantity", "last"),
    )  # fmt: skip
    found = found[gates.size() >= spec.number("least")]
    least = found["quantity"].map(READING_RESOLUTION).fillna(1.0) / np.sqrt(12)
    scale = np.maximum(found["spread"], least) * np.sqrt(1 + 1 / found["count"])
    high, low = (found["over"] - found["mean"]) / scale, (-found["under"] - found["mean"]) / scale
    chance = stdtr(found["count"] - 1, high) - stdtr(found["count"] - 1, low)
    good = (chance * 100 >= spec.number("percent")).groupby("enrolment").sum()
    return Answer(good == len(spec.words("gates")), good)


def numbers_flown(school: School, spec: RequirementSpec) -> pd.DataFrame:
    """The numbers at some gates in the order flown, in the unit of the newest; none of what the instructor flew."""
    flown = school.attempts.loc[~school.attempts["taken"], ["attempt", "enrolment"]]
    noted = school.measures[school.measures["gate"].isin(spec.words("gates"))]
    if not spec.counts_tracks:
        noted = noted[~noted["from_track"]]
    noted = flown.reset_index(names="order").merge(noted, on="attempt").sort_values(["order", "measure"])
    return noted[noted["target_unit"] == noted.groupby(["enrolment", "gate"])["target_unit"].transform("last")]


def recent_training(school: School, spec: RequirementSpec) -> Answer:
    own = school.lessons.merge(school.enrolments[["enrolment", "type"]], on=["enrolment", "type"])
    return _recent(school, spec, own[own["kind"].isin(TRAINING_KINDS)])


def recent_circuit(school: School, spec: RequirementSpec) -> Answer:
    """A landing that was observed, and everything judged in that circuit good."""
    judged = school.attempts[school.attempts["judged"] & school.attempts["circuit"].notna()]
    landed = (judged["part"] == Part.LANDING.value) & judged["observed"]
    whole = judged["good"].groupby(judged["circuit"]).all() & landed.groupby(judged["circuit"]).any()
    return _recent(school, spec, school.circuits[school.circuits["circuit"].isin(whole.index[whole])])


def _recent(school: School, spec: RequirementSpec, flown: pd.DataFrame) -> Answer:
    last = flown.groupby("enrolment")["on"].max()
    return Answer((pd.Timestamp(school.on) - last).dt.days <= spec.number("days"))


RULES: dict[str, Callable[[School, RequirementSpec], Answer]] = {
    **papers_in_pandas.RULES,
    "training_received": training_received, "manoeuvres_taught": manoeuvres_taught, "most_of_last": most_of_last,
    "in_a_row": in_a_row, "shown_unaided": shown_unaided, "last_at_level": last_at_level,
    "no_take_over": no_take_over, "no_open_critical_fault": no_open_critical_fault,
    "second_instructor": second_instructor, "consistent": numbers_consistent, "numbers_inside": numbers_inside,
    "recent_training": recent_training, "recent_circuit": recent_circuit,
}  # fmt: skip


def all_answers(school: School, standard: StandardSpec) -> dict[str, Answer]:
    """By the key of the requirement, in the order of the standard."""
    return {spec.key: RULES[spec.check](school, spec) for spec in standard.requirements}


def minutes(school: School) -> pd.DataFrame:
    """Dual and solo minutes of each student."""
    return school.lessons.groupby("enrolment")[["dual_minutes", "solo_minutes"]].sum()
