"""Find the low passages along a runway and say of each how it ended: with "unsure" as an answer."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from lessons.rules.flight_track.flight import Flight
from lessons.rules.flight_track.place import FOOT, Floats, RunwaySite
from lessons.rules.flight_track.setting import KNOT, TrackSetting
from lessons.rules.flight_track.touchdown import find_lift_off, find_touchdown

# A passage: this near to the runway's line (twice as far before the threshold), from before it to past its end, metres.
HALF_WIDTH, BEFORE, PAST_END = 60.0, 1100.0, 250.0
LOW_SHARE, LOW_ADDED = 0.4, 12.0
JOINED_OVER_S, FEWEST_SECONDS = 20.0, 3
STOPPED = 12 * KNOT
# The course of a passage lies within so much of the runway's: one that crosses it is none.
ALONG_COSINE = math.cos(math.radians(35))
CAME_SHARE, LEFT_SHARE, ROLLED_SHARE = 0.75, 0.85, 0.80
CAME_ABOVE, LEFT_ABOVE = 4.0, 12.0
NEAR_THE_BOTTOM = 5.0
# Of the score that tells a touch from a go-around: at the bottom for so long, lower than so much.
FLAT_WITHIN, FLAT_USUAL_S, FLAT_STEP_S, LOW_USUAL = 1.5, 7.0, 3.0, 2.0
HEIGHT_STEP = {True: 3.0, False: 9.0}  # by pressure, by a receiver
# On eighty simulated lessons a side with a telephone: at 1.0 a landing that was none in 280 go-arounds and 84 % of the
# touch-and-goes told; at 0.5 the same one and 91 %; at 0.0 two, and 96 %.
SURE_AROUND, SURE_TOUCH = 1.0, 0.5
Bools = NDArray[np.bool_]


class Passed(StrEnum):
    """How a low passage ended."""

    FULL_STOP = "full_stop"
    TOUCH_AND_GO = "touch_and_go"
    GO_AROUND = "go_around"
    UNSURE = "unsure"
    START = "start"


@dataclass(frozen=True)
class Passage:
    """One low passage, by places in the flight's seconds; ground: height of the ground there by the instrument.

    turn: where it is slowest near the ground; sure: 0.5 to 1.
    """

    first: int
    last: int
    ended: Passed
    turn: int
    ground: float
    touchdown: float | None = None
    lift_off: float | None = None
    sure: float = 1.0


def find_passages(flight: Flight, runway: RunwaySite, setting: TrackSetting) -> list[Passage]:
    """Return the passages along a runway in the order flown, each judged with the ground between sure contacts."""
    head = setting.wind_along(runway)[0]
    above = flight.height - _first_ground(flight, runway)
    found = list[Passage]()
    for first, last in _pieces(_low_over(flight, above, runway, setting), flight.seconds):
        if last - first >= FEWEST_SECONDS:
            found += _judge(flight, above, first, last, setting, head)
    return _judge_again(flight, found, setting, head)


def ground_line(flight: Flight, passages: Sequence[Passage]) -> Floats | None:
    """Return the height of the ground by the instrument over the whole flight; None without any sure contact."""
    sure = [row for row in passages if row.ended in (Passed.FULL_STOP, Passed.START) or _is_sure_touch(row)]
    if not sure:
        return None
    order = sorted(sure, key=lambda row: row.turn)
    return np.interp(flight.seconds, [flight.seconds[row.turn] for row in order], [row.ground for row in order])


def _is_sure_touch(row: Passage) -> bool:
    return row.ended is Passed.TOUCH_AND_GO and row.sure > 0.75


def _first_ground(flight: Flight, runway: RunwaySite) -> Floats:
    """Return a first guess of the ground: where it rolls slowly near the runway."""
    start, end = _ends(runway)
    near = (flight.x > start - 400) & (flight.x < end + 400) & (np.abs(flight.y) < 300)
    rolls = near & (flight.ground_speed < STOPPED)
    if rolls.sum() < 5:
        return np.full(len(flight.seconds), np.percentile(flight.raw_height, 2))
    return np.interp(flight.seconds, flight.seconds[rolls], _running_mean(flight.raw_height[rolls]))


def _ends(runway: RunwaySite) -> tuple[float, float]:
    start = -runway.touchdown_ft * FOOT
    return start, start + runway.length_ft * FOOT


def _running_mean(heights: Floats, seconds: int = 15) -> Floats:
    if len(heights) <= seconds:
        return np.full(len(heights), heights.mean())
    padded = np.pad(heights, seconds // 2, "edge")
    return np.convolve(padded, np.ones(seconds) / seconds, "same")[seconds // 2 : len(heights) + seconds // 2]


def _low_over(flight: Flight, above: Floats, runway: RunwaySite, setting: TrackSetting) -> Bools:
    start, end = _ends(runway)
    near = np.abs(flight.y) < np.where(flight.x < start, 2 * HALF_WIDTH, HALF_WIDTH)
    over = near & (flight.x > start - BEFORE) & (flight.x < end + PAST_END)
    along = (flight.vx > ALONG_COSINE * flight.ground_speed) | (flight.ground_speed < STOPPED)
    return over & along & (above < LOW_SHARE * setting.circuit_height + LOW_ADDED)


def _pieces(mask: Bools, seconds: Floats) -> list[tuple[int, int]]:
    places = np.nonzero(mask)[0]
    if not len(places):
        return []
    cuts = np.nonzero(np.diff(seconds[places]) > JOINED_OVER_S)[0] + 1
    return [(int(row[0]), int(row[-1])) for row in np.split(places, cuts)]


def _judge(flight: Flight, above: Floats, first: int, last: int, setting: TrackSetting, head: float) -> list[Passage]:
    """Tell a piece: what came before it was slowest, what after it, and whether it stood still."""
    piece = slice(first, last + 1)
    rest = first + np.nonzero(flight.ground_speed[piece] < STOPPED)[0]
    turn = _slowest_near_ground(flight, first, last)
    stands, goes = (int(rest[0]), int(rest[-1])) if len(rest) else (turn, turn)
    fast_in = flight.vx[first : stands + 1] > CAME_SHARE * setting.stall + min(0.0, head)
    came = bool((fast_in & (above[first : stands + 1] > CAME_ABOVE)).any())
    fast_out = flight.vx[goes : last + 6] > LEFT_SHARE * setting.stall + head
    left = bool((fast_out & (above[goes : last + 6] > LEFT_ABOVE)).any())
    if len(rest) and came and left:
        # Landed, stopped and left again without leaving the runway: two things.
        middle = (stands + goes) // 2
        return [
            _landing(flight, first, middle, setting, head),
            _start(flight, middle, last, setting, head),
        ]
    if came and left:
        return [_moving(flight, first, last, turn, setting, head, 0.0)]
    if came:
        return [_landing(flight, first, last, setting, head)]
    return [_start(flight, first, last, setting, head)] if left else []


def _slowest_near_ground(flight: Flight, first: int, last: int) -> int:
    """Return the slowest second near the lowest: aloft a stronger headwind makes the climb slower still."""
    piece = slice(first, last + 1)
    low = flight.height[piece] < flight.height[piece].min() + NEAR_THE_BOTTOM
    return first + int(np.argmin(np.where(low, flight.ground_speed[piece], np.inf)))


def _landing(flight: Flight, first: int, last: int, setting: TrackSetting, head: float) -> Passage:
    """Tell a full stop: the heights of the roll after it are the ground."""
    piece = np.arange(first, last + 1)
    air = flight.ground_speed[piece] - head
    slow = piece[air < ROLLED_SHARE * setting.stall]
    rolls = int(slow[0]) if len(slow) else int(piece[np.argmin(air)])
    ground = float(np.median(flight.raw_height[rolls : min(last + 1, rolls + 12)]))
    return Passage(first, last, Passed.FULL_STOP, rolls, ground, find_touchdown(flight, rolls, full_stop=True))


def _start(flight: Flight, first: int, last: int, setting: TrackSetting, head: float) -> Passage:
    piece = np.arange(first, min(len(flight.seconds), last + 15))
    # The first second that is fast: into a stronger wind aloft it may slow down again.
    fast = piece[flight.ground_speed[piece] - head > ROLLED_SHARE * setting.stall]
    begins = max(first, int(fast[0]) - 1) if len(fast) else first
    ground = float(np.median(flight.raw_height[max(0, begins - 6) : begins + 1]))
    return Passage(first, last, Passed.START, begins, ground, lift_off=find_lift_off(flight, begins, ground))


def _moving(
    flight: Flight, first: int, last: int, turn: int, setting: TrackSetting, head: float, above_ground: float
) -> Passage:
    """Tell whether it touched: by the slowest airspeed against the stall, and by how flat and low the bottom is."""
    piece = slice(first, last + 1)
    heights = flight.height[piece]
    near = heights < heights.min() + NEAR_THE_BOTTOM
    slowest = float((flight.ground_speed[piece] - head)[near].min())
    flat = float((heights - heights.min() < FLAT_WITHIN).sum())
    score = (setting.stall - slowest) / setting.wind_sigma + (flat - FLAT_USUAL_S) / FLAT_STEP_S
    score -= max(0.0, (above_ground - LOW_USUAL) / HEIGHT_STEP[flight.by_pressure])
    sure = 1 / (1 + math.exp(-min(50.0, abs(score))))
    if score < -SURE_AROUND:
        return Passage(first, last, Passed.GO_AROUND, turn, float(heights.min()), sure=sure)
    ground = float(np.median(flight.raw_height[max(first, turn - 2) : turn + 3]))
    ended = Passed.TOUCH_AND_GO if score > SURE_TOUCH else Passed.UNSURE
    down, up = find_touchdown(flight, turn, full_stop=False), find_lift_off(flight, turn, ground)
    return Passage(first, last, ended, turn, ground, down, up, sure)


def _judge_again(flight: Flight, passages: list[Passage], setting: TrackSetting, head: float) -> list[Passage]:
    """Judge moving passages once more with their height over the ground between the contacts that are sure."""
    sure = [row for row in passages if row.ended in (Passed.FULL_STOP, Passed.START)]
    if not sure:
        return passages
    ground = np.interp(flight.seconds, [flight.seconds[row.turn] for row in sure], [row.ground for row in sure])
    above = flight.height - ground
    return [
        row
        if row in sure
        else _moving(flight, row.first, row.last, row.turn, setting, head, float(above[row.first : row.last + 1].min()))
        for row in passages
    ]
