"""Lay out a progress sheet on its two pages from the content that was sealed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from grading.rules.release_words import limits_words
from grading.sheets.pictures import ApproachPictures, ProgressPicture, draw_approaches, draw_progress
from grading.sheets.signs import Mark, Signs
from school.formats import write_day, write_days_within, write_hours, write_moment
from school.marks.figures import PartGrade
from school.marks.paper import grade_row

LESSONS_SHOWN, GRADE_ROWS, GRADE_PITCH_PT = 19, 20, 14.2
LEAST_LESSONS, RELEASES_SHOWN = 4, 3
# What a line takes, in mm, measured on printed sheets; the box of a page is 250 mm high.
PAGE_MM, LINE_MM, LESSON_MM, LETTERS_A_LINE = 248.0, 3.35, 4.1, 62
# Of a release in force: its frame, and a line of its limits in bold.
FRAME_MM, LIMITS_LINE_MM, LETTERS_OF_LIMITS, LETTERS_OF_SMALL = 3.2, 3.7, 84, 110
# An estimate may err: with so many lessons fewer the pictures are small, and with more no page is forced to end.
SMALL_FROM, UNBROKEN_FROM = 7, 11
LONG_NAME = 36
STATES = {"met": "", "open": "Open.", "lapsed": "Expired.", "set_aside": "Set aside.", "not_known": "Not known."}
RELEASE_STATES = {"in_force": ("signed", "In force"), "withdrawn": ("withdrawn", "Withdrawn"),
                  "expired": ("waiting", "Expired"), "ahead": ("waiting", "Not begun")}  # fmt: skip
Plain = Mapping[str, Any]


@dataclass(frozen=True)
class RequirementLine:
    state: str
    word: str
    words: str
    source: str


@dataclass(frozen=True)
class ReleaseBox:
    """A release: its number in order, mark and state, limits in a sentence, what stands in small type under it."""

    number: int
    mark: str
    state: str
    limits: str
    small: str
    in_force: bool
    seal: str = ""


@dataclass(frozen=True)
class PrintedGradeRow:
    title: str
    drawing: str


@dataclass(frozen=True)
class ProgressLine:
    plain: Plain
    unit: str
    instructor: Mark | None
    student: Mark


@dataclass(frozen=True)
class ProgressLayout:
    """What the template needs beside the content. earlier: the lessons before those shown, in one row."""

    signs: Signs
    next_unit: str
    requirements: list[list[RequirementLine]]
    releases: list[ReleaseBox]
    approaches: ApproachPictures | None
    progress: ProgressPicture | None
    grades: list[list[PrintedGradeRow]]
    lessons: list[ProgressLine]
    earlier: dict[str, Any] | None
    last: ProgressLine | None
    release_mark: Mark | None
    long_name: bool
    breaks: bool


def lay_out_progress(sheet: Plain, fewer: int = 0) -> ProgressLayout:
    """Return the layout; fewer: how many lessons less than estimated have a row of their own."""
    signs = Signs()
    lines = [_lesson_line(lesson, signs) for lesson in sheet["lessons"]]
    releases = release_boxes(sheet, signs)
    release = sheet.get("release") or {}
    signature = release.get("signature")
    here = next((row for row in sheet["course"] if row["state"] == "here"), None)
    requirements = requirement_lines(sheet["verdict"]["requirements"])
    progress, grades = draw_progress(sheet), _grade_lines(sheet["grades"])
    first, figure = _first_page_mm(sheet, requirements, releases, small=False), _figure_mm(progress)
    small = first + figure > PAGE_MM or fewer >= SMALL_FROM
    first -= APPROACH_SAVED_MM if small else 0
    breaks = first + figure <= PAGE_MM and fewer < UNBROKEN_FROM
    shown = LESSONS_SHOWN if breaks else _lessons_beside_figure(first, figure)
    cut = max(len(lines) - max(shown - fewer, LEAST_LESSONS), 0)
    return ProgressLayout(
        signs,
        f"unit {here['number']}, {here['title']}" if here else "",
        _in_columns(requirements),
        releases,
        draw_approaches(sheet, small=small),
        progress,
        grades,
        lines[cut:],
        _earlier(sheet["lessons"][:cut]) if cut else None,
        lines[-1] if lines else None,
        signs.mark(signature) if signature else None,
        is_long(sheet["student"]),
        breaks,
    )


APPROACH_SAVED_MM = 9.0  # by the smaller pictures


def _first_page_mm(
    sheet: Plain, requirements: Sequence[RequirementLine], releases: Sequence[ReleaseBox], *, small: bool
) -> float:
    """Estimate how much of the first page is full before the figure of all circuits."""
    lines = sum(_lines(row) for row in requirements) / 2 + 1
    boxes = sum(map(_release_mm, releases))
    approaches = (62.5 - (APPROACH_SAVED_MM if small else 0)) if sheet.get("approaches") else 0
    return 41 + (7 + boxes if releases else 0) + 20 + lines * 3.8 + approaches


def _release_mm(box: ReleaseBox) -> float:
    if not box.in_force:
        return 5.4 + LINE_MM * (len(box.small) // LETTERS_OF_SMALL)
    limits, small = -(-len(box.limits) // LETTERS_OF_LIMITS), -(-len(box.small) // LETTERS_OF_SMALL)
    return FRAME_MM + limits * LIMITS_LINE_MM + small * LINE_MM


def _lines(row: RequirementLine) -> int:
    letters = len(f"{row.word} {row.words} {row.source}")
    return -(-letters // LETTERS_A_LINE)


def _figure_mm(progress: ProgressPicture | None) -> float:
    return 14 + 4 * progress.tracked + progress.height_pt * 25.4 / 72 if progress else 0.0


def _lessons_beside_figure(first: float, figure: float) -> int:
    """Return how many lessons have room on the second page with the figure on it."""
    lost = figure if first <= PAGE_MM else figure + first - PAGE_MM
    return max(LESSONS_SHOWN - round(lost / LESSON_MM + 1.5), LEAST_LESSONS)


def _in_columns(rows: Sequence[RequirementLine]) -> list[list[RequirementLine]]:
    """Return the rows in two columns of about the same height."""
    half, lines, cut = sum(_lines(row) for row in rows) / 2, 0.0, 0
    while cut < len(rows) and lines + _lines(rows[cut]) / 2 <= half:
        lines += _lines(rows[cut])
        cut += 1
    return [list(rows[:cut]), list(rows[cut:])]


def is_long(person: Plain) -> bool:
    return len(person["name"]) > LONG_NAME


def requirement_lines(rows: Sequence[Plain]) -> list[RequirementLine]:
    """Return the requirements, those not met first, and with a reason only where it says more than its title."""
    order = sorted(rows, key=lambda row: row["state"] == "met")
    return [
        RequirementLine(row["state"], STATES.get(row["state"], ""), _requirement_words(row), short_source(row))
        for row in order
    ]


def _requirement_words(row: Plain) -> str:
    far = str(row.get("how_far") or "")
    # "10 of 10" beside a title that names the last ten; the whole sentence is in the attached record.
    words = write_days_within(str(row["sentence"]).removesuffix(far) + far.replace(" of the last ", " of "))
    reason = row.get("reason") or ""
    return f"{words}. {write_days_within(reason)}" if reason else words


def short_source(row: Plain) -> str:
    """Return "[61.87(b)]" of "14 CFR 61.87(b)", nothing of the school's own."""
    source = str(row.get("source") or "")
    paragraph = source.partition(";")[0].removeprefix("14 CFR ")
    return "" if row.get("kind") == "school" or not paragraph else f"[{paragraph}]"


def release_boxes(sheet: Plain, signs: Signs) -> list[ReleaseBox]:
    """Return the releases, those in force first and the newest first, as the content has them."""
    boxes = []
    for number, row in enumerate(sheet.get("releases") or [], 1):
        mark, state = RELEASE_STATES[row["state"]]
        in_force = row["state"] == "in_force"
        # Of one that is over only when and why; its limits are in the complete record.
        limits = release_words(row, metric=_metric(sheet)) if in_force else ""
        small = _release_small(row, signs) if in_force else _over_words(row)
        boxes.append(ReleaseBox(number, mark, state, limits, small, in_force))
    return sorted(boxes, key=lambda box: (not box.in_force, -box.number))[:RELEASES_SHOWN]


def _metric(sheet: Plain) -> bool:
    return str(sheet.get("rule_set", "us")) != "us"


def release_words(row: Plain, *, metric: bool) -> str:
    """Return place, days and limits of a release in two sentences."""
    limits = row.get("limits", row)
    begin, end = (write_day(date.fromisoformat(row[name])) for name in ("valid_from", "valid_until"))
    night = {"night": " at night", "nearby": " at another aerodrome"}.get(str(row.get("kind", "")), "")
    words = limits_words(
        runways=limits["runways"],
        wind_kt=limits["max_wind_kt"],
        crosswind_kt=limits["max_crosswind_kt"],
        visibility_sm=Decimal(limits["min_visibility_sm"]),
        ceiling_ft=limits["min_ceiling_ft"],
        metric=metric,
    )
    return f"{row['aerodrome']}{night}, {begin} until {end}. {words[:1].upper()}{words[1:]}."


def _release_small(row: Plain, signs: Signs) -> str:
    said = [f"Last training {write_day(date.fromisoformat(row['training_on']))}, endorsed by"
            f" {row['endorsed_by']['name']}."]  # fmt: skip
    if row.get("signature"):
        mark = signs.mark(row["signature"])
        said.append(f"Signed {mark.sign}, {mark.when}.")
    if row.get("reason"):
        said.append(f"Reason: {row['reason']}")
    return " ".join(said)


def _over_words(row: Plain) -> str:
    begin, end = (write_day(date.fromisoformat(row[name])) for name in ("valid_from", "valid_until"))
    if row.get("withdrawal"):
        return f"Of {begin}. {withdrawal_words(row['withdrawal'])}"
    return f"From {begin} until {end}."


def withdrawal_words(row: Plain) -> str:
    return f"Withdrawn {write_moment(datetime.fromisoformat(row['at']))}, by {row['by']['name']}: {row['reason']}"


def _grade_lines(grades: Plain) -> list[list[PrintedGradeRow]]:
    """Return the grades in two columns; no more rows than a page has room for, those graded last first to stay."""
    rows = grades["rows"]
    if len(rows) > GRADE_ROWS:
        rows = sorted(rows, key=_last_graded)[-GRADE_ROWS:]
        rows = [row for row in grades["rows"] if row in rows]
    lines = [PrintedGradeRow(row["title"], _grade_drawing(row, grades["lessons"])) for row in rows]
    half = (len(lines) + 1) // 2
    return [lines[:half], lines[half:]] if lines else []


def _last_graded(row: Plain) -> int:
    return max(place for place, cell in enumerate(row["cells"]) if cell)


def _grade_drawing(row: Plain, lessons: Sequence[Plain]) -> str:
    cells = [PartGrade(cell["level"] or "not_observed", cell["help"] or "none") if cell else None
             for cell in row["cells"]]  # fmt: skip
    said = [
        f"lesson {lesson['number']} {cell.level.replace('_', ' ')}"
        + (f", {cell.help.replace('_', ' ')}" if cell.help != "none" else "")
        for lesson, cell in zip(lessons, cells, strict=True)
        if cell
    ]
    return grade_row(cells, GRADE_PITCH_PT, "; ".join(said))


def _lesson_line(lesson: Plain, signs: Signs) -> ProgressLine:
    number, _, title = lesson["unit"].partition(": ")
    signatures = lesson["signatures"]
    instructor = signs.mark(signatures["instructor"], lesson["date"]) if signatures.get("instructor") else None
    student = signs.mark(signatures["student"], lesson["date"]) if signatures.get("student") else None
    return ProgressLine(lesson, f"{number} {title}".strip(), instructor, student or Mark("waiting", "", "waiting"))


def _earlier(lessons: Sequence[Plain]) -> dict[str, Any]:
    """Return the sums of the lessons that have no row of their own."""
    sums = {name: sum(row[name] for row in lessons) for name in ("dual_minutes", "solo_minutes", "ground_minutes")}
    return {
        "first": lessons[0]["number"],
        "last": lessons[-1]["number"],
        "until": lessons[-1]["date"],
        "hours": {name: write_hours(minutes) for name, minutes in sums.items()},
        "landings": sum(row["landings"] for row in lessons),
    }
