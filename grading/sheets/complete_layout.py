"""Lay out the complete record from the content that was sealed: its cover, its log, the signs in both."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from grading.sheets.lesson_log import LogTable, lay_out_log
from grading.sheets.progress_layout import RELEASE_STATES, ReleaseBox, is_long, release_words, withdrawal_words
from grading.sheets.signs import Mark, Signs
from lessons.models import Endorsement
from school.formats import write_days_within, write_moment

Plain = Mapping[str, Any]
SHORT_DIGEST = 16


@dataclass(frozen=True)
class SignedLine:
    """A sealed record with the mark of its signature. gone: that it was withdrawn, when, by whom and why."""

    plain: Plain
    mark: Mark
    gone: str = ""
    title: str = ""


@dataclass(frozen=True)
class CompleteLayout:
    signs: Signs
    ends: list[SignedLine]
    endorsements: list[SignedLine]
    releases: list[ReleaseBox]
    tables: list[LogTable]
    long_name: bool


def lay_out_complete(sheet: Plain) -> CompleteLayout:
    signs = Signs()
    tables = lay_out_log(sheet, signs)
    endorsed = [_endorsement(row, sheet, signs) for row in sheet["endorsements"]]
    ends = [SignedLine(row, signs.mark(row["signature"])) for row in sheet["ends"]]
    return CompleteLayout(signs, ends, endorsed, _releases(sheet, signs), tables, is_long(sheet["student"]))


def _endorsement(row: Plain, sheet: Plain, signs: Signs) -> SignedLine:
    gone = next((each for each in sheet["endorsements_withdrawn"] if each["endorsement"] == row["id"]), None)
    # Sealed by its code; on paper it has the name that pages give it.
    title = Endorsement.Kind(row["kind"]).label
    return SignedLine(row, signs.mark(row["signature"]), withdrawal_words(gone) if gone else "", title)


def _releases(sheet: Plain, signs: Signs) -> list[ReleaseBox]:
    """Return the releases, the newest first. The sealed ones have no state: it follows from the day of the sheet."""
    boxes = []
    for number, row in enumerate(sheet["releases"], 1):
        gone = next((each for each in sheet["withdrawals"] if each["release"] == row["id"]), None)
        state = "withdrawn" if gone else "expired" if row["valid_until"] < sheet["on"] else "in_force"
        state = "ahead" if state == "in_force" and row["valid_from"] > sheet["on"] else state
        mark, word = RELEASE_STATES[state]
        limits = release_words(row, metric=str(sheet.get("rule_set", "us")) != "us")
        seal = f"Seal {row['seal']}, {row['digest'][:SHORT_DIGEST]}"
        small = " ".join([_small(row, gone, signs), *_confirmed(row, sheet)])
        boxes.append(ReleaseBox(number, mark, word, limits, small, state == "in_force", seal))
    return sorted(boxes, key=lambda box: (not box.in_force, -box.number))


def _confirmed(row: Plain, sheet: Plain) -> list[str]:
    """Return when the student confirmed the withdrawal of a release, if they did. A sheet of before has none."""
    return [
        f"Confirmed by {each['by']['name']} {write_moment(datetime.fromisoformat(each['at']))}."
        for each in sheet.get("withdrawals_confirmed") or []
        if each["release"] == row["id"]
    ]


def _small(row: Plain, gone: Plain | None, signs: Signs) -> str:
    mark = signs.mark(row["signature"])
    trained = write_days_within(row["training_on"])
    said = [f"{row['aircraft_type']}. Last training {trained}, endorsed by {row['endorsed_by']['name']}.",
            write_days_within(row["verdict"]["headline"]), f"Signed {mark.sign}, {mark.when}."]  # fmt: skip
    said += [f"Reason: {row['reason']}"] * bool(row["reason"])
    return " ".join([*said, withdrawal_words(gone)] if gone else said)
