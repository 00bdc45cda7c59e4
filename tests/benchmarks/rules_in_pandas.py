"""The rules of readiness for a whole school at once, in pandas: what each asks, without reasons and without evidence.

Written from the words of the requirements and not from the engine's code, so that agreement says something. Each rule
answers, by enrolment, whether it is met and, where the engine counts, how many.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtr

from grading.rules.readiness.checks.numbers import READING_RESOLUTION
from grading.rules.readiness.standard import RequirementSpec, StandardSpec
from lessons.rules.scale import Ending, Part, UnitKind
from lessons.rules.units import convert
from tests.benchmarks.frames import School

NUMBERS_THAT_COUNT = 10


@dataclass(frozen=True)
class Answer:
    """By enrolment; whoever is missing has not met it, and counts as none. `done` None: nothing is counted."""

    met: "pd.Series[bool]"
    done: "pd.Series[int] | None" = None


def in_a_row(school: School, spec: RequirementSpec) -> Answer:
    """After the last attempt that was seen and not good: how many, over how many lessons."""
    row = current_streak(school, spec.words("part")[0])
    count = row.groupby("enrolment").size()
    over = row.groupby("enrolment")["lesson"].nunique()
    return Answer((count >= spec.number("needed")) & (over >= spec.number("lessons")), count)


def current_streak(school: School, part: str) -> pd.DataFrame:
    tried = school.attempts[(school.attempts["part"] == part) & school.attempts["circuit"].notna()]
    breaks = ~tried["good"] & (tried["observed"] | tried["taken"] | tried["critical"])
    broken = breaks.groupby(tried["enrolment"])
    return tried[tried["good"] & (broken.cumsum() == broken.transform("sum"))]


def shown_unaided(school: School, spec: RequirementSpec) -> Answer:
    shown = school.attempts[school.attempts["manoeuvre"] == spec.words("manoeuvres")[0]]
    return Answer(shown.groupby("enrolment")["good"].any())


def last_at_level(school: School, spec: RequirementSpec) -> Answer:
    codes = spec.words("manoeuvres")
    asked = school.attempts[school.attempts["manoeuvre"].isin(codes) & school.attempts["observed"]]
    done = asked.groupby(["enrolment", "manoeuvre"])["good"].last().groupby("enrolment").sum()
    return Answer(done == len(codes), done)


def no_take_over(school: School, spec: RequirementSpec) -> Answer:
    seen = school.attempts.groupby("circuit")[["observed", "taken"]].any()
    circuits = school.circuits.merge(seen, left_on="circuit", right_index=True, how="left")
    circuits["taken"] = circuits["taken"].eq(True) | (circuits["ending"] == Ending.TOOK_CONTROL.value)
    counted = circuits[circuits["taken"] | circuits["observed"].eq(True)]
    newest = counted.sort_values(["enrolment", "on", "number", "place"]).groupby("enrolment")
    return Answer(~newest.tail(spec.number("circuits")).groupby("enrolment")["taken"].any())


def no_open_critical_fault(school: School, spec: RequirementSpec) -> Answer:
    """Each fault as it was last seen, and how many attempts at its manoeuvre were observed since."""
    attempts = school.attempts
    by_manoeuvre = attempts.groupby(["enrolment", "manoeuvre"])["observed"]
    since = attempts.assign(since=by_manoeuvre.transform("sum") - by_manoeuvre.cumsum())
    seen = since.reset_index(names="order").merge(school.faults[["attempt", "fault", "critical"]], on="attempt")
    last = seen.sort_values("order").drop_duplicates(["enrolment", "manoeuvre", "fault"], keep="last")
    still_open = last[last["critical_y"] & (last["since"] < spec.number("clean"))]
    flown = pd.Index(attempts["enrolment"].unique())
    return Answer(pd.Series(~flown.isin(still_open["enrolment"]), flown))


def second_instructor(school: School, spec: RequirementSpec) -> Answer:
    """Another than who gave most dual lessons; of two who gave as many, the name that is later in the alphabet."""
    dual = school.lessons[school.lessons["kind"] == UnitKind.DUAL.value]
    taught = dual.groupby(["enrolment", "instructor"]).size().rename("taught").reset_index()
    own = taught.sort_values(["taught", "instructor"]).groupby("enrolment")["instructor"].last()
    checks = school.lessons[school.lessons["kind"] == UnitKind.STAGE_CHECK.value]
    checks = checks[checks["instructor"] != checks["enrolment"].map(own)]
    seen = school.attempts[school.attempts["observed"] & school.attempts["lesson"].isin(checks["lesson"])]
    passed = seen.groupby(["enrolment", "lesson"])["good"].all()
    return Answer(passed.groupby("enrolment").any())


def training_received(school: School, spec: RequirementSpec) -> Answer:
    """The items of what was observed in flights with an instructor in a type that counts, each with all its halves."""
    lessons = school.lessons.merge(school.enrolments, on="enrolment", suffixes=("", "_own"))
    counts = (lessons["type"] == lessons["type_own"]) | lessons["type"].isin(spec.words("similar_types"))
    lessons = lessons[counts & lessons["kind"].isin([UnitKind.DUAL.value, UnitKind.STAGE_CHECK.value])]
    seen = school.attempts[school.attempts["observed"] & school.attempts["lesson"].isin(lessons["lesson"])]
    taught = seen[["enrolment", "manoeuvre"]].drop_duplicates().merge(school.items, on="manoeuvre")
    codes = pd.Series({code: code.partition(":")[0] for code in spec.words("items")}, name="whole")
    halves = codes.groupby(codes).size()
    given = taught[["enrolment", "item"]].drop_duplicates().merge(codes, left_on="item", right_index=True)
    given = given.groupby(["enrolment", "whole"]).size()
    done = (given == given.index.get_level_values("whole").map(halves)).groupby("enrolment").sum()
    return Answer(done == len(halves), done)


def numbers_consistent(school: School, spec: RequirementSpec) -> Answer:
    """At each gate with enough numbers, the chance that the next lies inside, by the t distribution."""
    noted = deviations(school, spec.words("gates"))
    gates = noted.groupby(["enrolment", "gate"])
    last = noted[gates.cumcount(ascending=False) < NUMBERS_THAT_COUNT].groupby(["enrolment", "gate"])
    found = last.agg(
        count=("amount", "size"), mean=("amount", "mean"), spread=("amount", "std"), over=("over", "last"),
        under=("under", "last"), quantity=("quantity", "last"),
    )  # fmt: skip
    found = found[gates.size() >= spec.number("least")]
    least = found["quantity"].map(READING_RESOLUTION).fillna(1.0) / np.sqrt(12)
    scale = np.maximum(found["spread"], least) * np.sqrt(1 + 1 / found["count"])
    high, low = (found["over"] - found["mean"]) / scale, (-found["under"] - found["mean"]) / scale
    chance = stdtr(found["count"] - 1, high) - stdtr(found["count"] - 1, low)
    good = (chance * 100 >= spec.number("percent")).groupby("enrolment")
    students = school.enrolments["enrolment"]
    return Answer(good.all().reindex(students, fill_value=True), good.sum())


def deviations(school: School, gates: tuple[str, ...]) -> pd.DataFrame:
    """Numbers at some gates in the order flown, as they lie from the target of their day, in the newest one's unit."""
    flown = school.attempts.loc[~school.attempts["taken"], ["attempt", "enrolment", "lesson"]]
    noted = flown.reset_index(names="order").merge(school.measures[school.measures["gate"].isin(gates)], on="attempt")
    noted = noted.merge(school.lessons[["lesson", "half_gust"]], on="lesson").sort_values(["order", "measure"])
    read_in = noted["unit"].fillna(noted["target_unit"])
    pairs = {pair: float(convert(1, *pair)) for pair in set(zip(read_in, noted["target_unit"], strict=True))}
    factor = pd.Series([pairs[pair] for pair in zip(read_in, noted["target_unit"], strict=True)], noted.index)
    gust = noted["half_gust"].fillna(0).where(noted["wind_rule"] == "half_gust", 0)
    gust *= noted["target_unit"].map({"km/h": 1.852}).fillna(1)
    noted["amount"] = (noted["value"] * factor - noted["target"] - gust).round(6)
    newest = noted.groupby(["enrolment", "gate"])["target_unit"].transform("last")
    return noted[noted["target_unit"] == newest]


def recent_training(school: School, spec: RequirementSpec) -> Answer:
    own = school.lessons.merge(school.enrolments, on=["enrolment", "type"])
    return _recent(school, spec, own[own["kind"].isin([UnitKind.DUAL.value, UnitKind.STAGE_CHECK.value])])


def recent_circuit(school: School, spec: RequirementSpec) -> Answer:
    """A landing that was observed, and everything observed in that circuit good."""
    observed = school.attempts[school.attempts["observed"] & school.attempts["circuit"].notna()]
    observed = observed.assign(landed=observed["part"] == Part.LANDING.value).groupby("circuit")
    whole = observed["good"].all() & observed["landed"].any()
    return _recent(school, spec, school.circuits[school.circuits["circuit"].isin(whole.index[whole])])


def _recent(school: School, spec: RequirementSpec, flown: pd.DataFrame) -> Answer:
    last = flown.groupby("enrolment")["on"].max()
    return Answer((pd.Timestamp(school.on) - last).dt.days <= spec.number("days"))


RULES: dict[str, Callable[[School, RequirementSpec], Answer]] = {
    "training_received": training_received, "in_a_row": in_a_row, "shown_unaided": shown_unaided,
    "last_at_level": last_at_level, "no_take_over": no_take_over, "no_open_critical_fault": no_open_critical_fault,
    "second_instructor": second_instructor, "consistent": numbers_consistent, "recent_training": recent_training,
    "recent_circuit": recent_circuit,
}  # fmt: skip


def all_answers(school: School, standard: StandardSpec) -> dict[str, Answer]:
    """By the key of the requirement: all but papers, written tests and endorsements, which are a row each."""
    return {spec.key: RULES[spec.check](school, spec) for spec in standard.requirements if spec.check in RULES}


def minutes(school: School) -> pd.DataFrame:
    """Dual and solo minutes of each student."""
    return school.lessons.groupby("enrolment")[["dual_minutes", "solo_minutes"]].sum()
